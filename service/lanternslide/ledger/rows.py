"""Rows of the ledger as frozen records."""

from __future__ import annotations

import json
import os
import sqlite3
from dataclasses import asdict, dataclass, field
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple, Self

from lanternslide.records import About, Fingerprint, Record, Shown, shown_path

__all__ = [
    "Day",
    "DeliveryRow",
    "DeliveryState",
    "Kept",
    "Known",
    "OriginalRow",
    "OriginalState",
    "Published",
    "Replaced",
    "ShownRow",
    "Standing",
    "Unwanted",
    "Wanted",
    "stored",
    "stored_fingerprint",
]


BEYOND = 2**63
"""The first whole number that SQLite cannot hold."""


class DeliveryState(StrEnum):
    """What the ledger knows a delivery as; the transitions stand in schema.sql."""

    WAITING = "waiting"  #: To be made.
    PUBLISHING = "publishing"  #: Its intent is written; the rename may or may not have happened.
    DELIVERED = "delivered"  #: It stands under its name.
    LEFT_OUT = "left out"  #: Its original is too small for it; with an output, that is about to be deleted.
    WITHDRAWN = "withdrawn"  #: Its owner has taken it back; with an output, that is about to be deleted.


class OriginalState(StrEnum):
    """What an original is at; the transitions stand in schema.sql."""

    WAITING = "waiting"
    WORKING = "working"
    DELIVERED = "delivered"
    HELD = "held"
    WITHDRAWN = "withdrawn"
    GONE = "gone"


class Known(NamedTuple):
    """The little of an original that a scan compares a file with; there may be very many."""

    fingerprint: tuple[int, int, int]  #: Size, time and number of the file, as stored.
    state: OriginalState
    reason_key: str | None
    id: int
    is_older: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class OriginalRow:
    """What the ledger knows of an original."""

    id: int
    photographer: str
    picture: Path  #: Path below the drop folder, without tags.
    path: Path  #: Path below the drop folder, as it is now.
    fingerprint: Fingerprint
    digest: str | None
    state: OriginalState
    reason_key: str | None
    reason: str | None
    attempts: int
    filed_to: Path | None = None  #: Where it is filed away, or about to be.
    held_at: str | None = None  #: Since when it is held (RFC 3339).
    is_older: bool = False  #: It was delivered as it is and is asked for again, after all that is fresh.

    @property
    def shown(self) -> str:
        """Its photographer and its path, for the log and for people."""
        return f"{self.photographer}: {shown_path(self.path)}"

    @property
    def known(self) -> Known:
        """The little of it that a scan compares a file with."""
        return Known(stored_fingerprint(self.fingerprint), self.state, self.reason_key, self.id, self.is_older)

    @classmethod
    def from_row(cls, row: sqlite3.Row) -> Self:
        """Return the record of a row of table original."""
        return cls(
            id=row["id"],
            photographer=row["photographer"],
            picture=Path(os.fsdecode(row["picture"])),
            path=Path(os.fsdecode(row["path"])),
            fingerprint=Fingerprint(size=row["size"], mtime_ns=row["mtime_ns"], inode=_signed(row["inode"])),
            digest=row["digest"],
            state=OriginalState(row["state"]),
            reason_key=row["reason_key"],
            reason=row["reason"],
            attempts=row["attempts"],
            filed_to=None if row["filed_to"] is None else Path(os.fsdecode(row["filed_to"])),
            held_at=row["held_at"],
            is_older=bool(row["older"]),
        )


def stored_fingerprint(fingerprint: Fingerprint) -> tuple[int, int, int]:
    """Return size, time and number as SQLite can hold them: its integers are signed and have 64 bits."""
    return stored(fingerprint.size, fingerprint.mtime_ns, fingerprint.inode)


def stored(size: int, mtime_ns: int, inode: int) -> tuple[int, int, int]:
    """Return the same of its parts."""
    return size, mtime_ns, inode if inode < BEYOND else inode - 2 * BEYOND


def _signed(inode: int) -> int:
    """Return a file's number from SQLite's signed integer."""
    return inode % 2**64


@dataclass(frozen=True, kw_only=True, slots=True)
class Published:
    """A file that stands, or is being put, under a delivery's name."""

    path: Path
    size: int
    digest: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Kept:
    """What is kept of a delivery beside its file."""

    record: Record
    about: About = field(default_factory=About)  #: What its metadata say in words.
    shown: Shown | None = None  #: What a proof sheet shows of it.

    def stored(self) -> dict[str, str | None]:
        """Return it as columns of table delivery."""
        return {
            "record": self.record.to_line(),
            "about": json.dumps(asdict(self.about), ensure_ascii=False),
            "shown": None if self.shown is None else json.dumps(asdict(self.shown)),
        }


@dataclass(frozen=True, kw_only=True, slots=True)
class Replaced:
    """A file that a delivery has left behind, because it stands elsewhere now."""

    photographer: str
    original: Path  #: Path below the drop folder.
    destination: str
    left: Published
    stands: Path  #: Where it stands now.


@dataclass(frozen=True, kw_only=True, slots=True)
class Unwanted:
    """A delivery that stands and that its original no longer asks for."""

    photographer: str
    original: Path  #: Path below the drop folder.
    stands: Path

    @classmethod
    def from_row(cls, row: sqlite3.Row) -> Self:
        """Return the record of a row of the query `unwanted`."""
        return cls(
            photographer=row["photographer"],
            original=Path(os.fsdecode(row["path"])),
            stands=Path(os.fsdecode(row["output"])),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """A delivery that stands, and what is known of it."""

    photographer: str
    picture: Path  #: Path below the drop folder, without tags.
    output: Published
    record: str
    about: About

    @classmethod
    def from_row(cls, row: sqlite3.Row) -> Self:
        """Return the record of a row of the query `standing`."""
        output = _published(row["output"], row["output_size"], row["output_digest"])
        assert output is not None
        return cls(
            photographer=row["photographer"],
            picture=Path(os.fsdecode(row["picture"])),
            output=output,
            record=row["record"],
            about=About(**json.loads(row["about"])) if row["about"] else About(),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class ShownRow:
    """A delivery for a proof sheet."""

    record: Record
    shown: Shown | None  #: What was made for the sheet, if anything was.
    about: About

    @classmethod
    def from_row(cls, row: sqlite3.Row) -> Self:
        """Return the record of a row of the query `shown_between`."""
        record = Record.model_validate_json(row["record"])
        # What is being made again still stands as it was.
        state = "withdrawn" if row["state"] == "withdrawn" else "delivered"
        return cls(
            record=record.model_copy(update={"delivered_at": row["delivered_at"], "state": state}),
            shown=Shown.of(json.loads(row["shown"])) if row["shown"] else None,
            about=About(**json.loads(row["about"])) if row["about"] else About(),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Day:
    """A day on which a photographer got deliveries."""

    day: date
    deliveries: int
    withdrawn: int  #: How many of them were taken back.
    sums: tuple[int, int]  #: Others whenever one of the deliveries is another.


@dataclass(frozen=True, kw_only=True, slots=True)
class DeliveryRow:
    """What the ledger knows of one delivery."""

    id: int
    original: int
    destination: str
    density: float
    wanted: bool
    state: DeliveryState
    made_from: str | None
    recipe: str  #: How it was made, or is to be, as JSON.
    output: Published | None
    intent: Published | None
    record: str | None

    @classmethod
    def from_row(cls, row: sqlite3.Row) -> Self:
        """Return the record of a row of table delivery."""
        return cls(
            id=row["id"],
            original=row["original"],
            destination=row["destination"],
            density=row["density"],
            wanted=bool(row["wanted"]),
            state=DeliveryState(row["state"]),
            made_from=row["made_from"],
            recipe=row["recipe"],
            output=_published(row["output"], row["output_size"], row["output_digest"]),
            intent=_published(row["intent"], row["intent_size"], row["intent_digest"]),
            record=row["record"],
        )


def _published(path: bytes | None, size: int, digest: str) -> Published | None:
    return None if path is None else Published(path=Path(os.fsdecode(path)), size=size, digest=digest)


@dataclass(frozen=True, kw_only=True, slots=True)
class Wanted:
    """A delivery that an original asks for."""

    destination: str
    density: float
    recipe: str  #: How it is to be made, as JSON.


def below(path: Path) -> dict[str, bytes]:
    """Return what a query compares paths with, to find one or all in a folder; the empty path is all."""
    if path == Path():
        return {"path": b"", "below": b"", "beyond": b"\xff" * 8}
    encoded, separator = os.fsencode(path), ord(os.sep)
    return {"path": encoded, "below": encoded + bytes([separator]), "beyond": encoded + bytes([separator + 1])}
