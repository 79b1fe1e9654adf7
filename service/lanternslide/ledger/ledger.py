"""The ledger's verbs. One writer: the main process."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from lanternslide.errors import StateUnwritableError
from lanternslide.ledger.database import open_database, query
from lanternslide.ledger.rows import DeliveryRow, OriginalRow, OriginalState, Published, Wanted
from lanternslide.records import DroppedFile, Fingerprint, Record
from lanternslide.words import Said

__all__ = ["Ledger"]

FILE_NAME = "ledger.sqlite"


@contextmanager
def _storage() -> Iterator[None]:
    """Turn a failure of the service's own storage into what stops it."""
    try:
        yield
    except sqlite3.Error as error:
        raise StateUnwritableError(str(error)) from error


class Ledger:
    """What was seen, what is to be made, what stands published."""

    def __init__(self, folder: Path) -> None:
        self._connection = open_database(folder / FILE_NAME)
        self.name: str = self._one("ledger_name")["name"]  #: Tells this ledger's temporary files from others'.

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._connection.close()

    def _all(self, name: str, **values: Any) -> list[sqlite3.Row]:
        with _storage():
            return self._connection.execute(query(name), values).fetchall()

    def _one(self, name: str, **values: Any) -> Any:
        with _storage():
            return self._connection.execute(query(name), values).fetchone()

    @contextmanager
    def _together(self) -> Iterator[None]:
        with _storage():
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
            except BaseException:
                self._connection.execute("ROLLBACK")
                raise
            self._connection.execute("COMMIT")

    # Originals

    def originals_of(self, photographer: str) -> dict[Path, OriginalRow]:
        """Return all that is known of a photographer's pictures, by their present path."""
        rows = map(OriginalRow.from_row, self._all("originals_of", photographer=photographer))
        return {row.path: row for row in rows}

    def originals_at(self, photographer: str, path: Path) -> list[OriginalRow]:
        """Return what is known under one path."""
        rows = self._all("originals_at", photographer=photographer, path=os.fsencode(path))
        return [OriginalRow.from_row(row) for row in rows]

    def original_of(self, photographer: str, picture: Path) -> OriginalRow | None:
        """Return what is known of one picture."""
        row = self._one("original_of_picture", photographer=photographer, picture=os.fsencode(picture))
        return OriginalRow.from_row(row) if row else None

    def take_in(self, file: DroppedFile, picture: Path) -> OriginalRow:
        """Note an original that has settled; it waits to be done."""
        row = self._one(
            "take_in",
            photographer=file.photographer,
            picture=os.fsencode(picture),
            path=os.fsencode(file.relative),
            **_stored(file.fingerprint),
        )
        return OriginalRow.from_row(row)

    def hold(self, original: int, said: Said) -> None:
        """Note that an original waits for its owner, and why."""
        self._one("hold", id=original, reason=said.text, reason_key=said.key)

    def set_state(self, original: int, state: OriginalState) -> None:
        """Note what an original is at."""
        self._one("set_state", id=original, state=state.value)

    def count_attempt(self, original: int) -> int:
        """Note a failed attempt and return how many there were."""
        attempts: int = self._one("count_attempt", id=original)["attempts"]
        return attempts

    # Deliveries

    def want(self, original: int, digest: str, wanted: Iterable[Wanted]) -> list[DeliveryRow]:
        """Note what an original with this *digest* asks for; return the deliveries that are still to be made."""
        with self._together():
            self._one("set_digest", id=original, digest=digest)
            self._one("forget_wishes", original=original)
            for item in wanted:
                self._one(
                    "want",
                    original=original, digest=digest,
                    destination=item.destination, density=item.density, recipe=item.recipe,
                )  # fmt: skip
        return [row for row in self.deliveries_of(original) if row.wanted and row.state == "waiting"]

    def deliveries_of(self, original: int) -> list[DeliveryRow]:
        """Return all deliveries of an original."""
        return [DeliveryRow.from_row(row) for row in self._all("deliveries_of", original=original)]

    def intend(self, delivery: int, intent: Published, *, made_from: str, record: Record) -> None:
        """Note, before the rename, what is about to stand where."""
        self._one(
            "intend",
            id=delivery, path=os.fsencode(intent.path), size=intent.size, digest=intent.digest,
            made_from=made_from, record=record.to_line(),
        )  # fmt: skip

    def confirm(self, delivery: int, delivered_at: str) -> None:
        """Note, after the rename, that the delivery stands."""
        self._one("confirm", id=delivery, delivered_at=delivered_at)

    def take_back_intent(self, delivery: int) -> None:
        """Note that the rename did not happen; the delivery is to be made again."""
        self._one("take_back_intent", id=delivery)

    def leave_out(self, delivery: int, made_from: str) -> None:
        """Note that the original is too small for this delivery."""
        self._one("leave_out", id=delivery, made_from=made_from)

    def finish(self, original: int) -> bool:
        """Note that an original is delivered if nothing it asks for is left; return whether that is so."""
        if self._one("unfinished", original=original)["number"]:
            self.set_state(original, OriginalState.WAITING)
            return False
        self.set_state(original, OriginalState.DELIVERED)
        return True

    def owner_of(self, path: Path) -> DeliveryRow | None:
        """Return the delivery that a published file belongs to."""
        row = self._one("owner_of_output", path=os.fsencode(path))
        return DeliveryRow.from_row(row) if row else None

    # Recovery

    def open_intents(self) -> list[DeliveryRow]:
        """Return the deliveries whose rename may or may not have happened."""
        return [DeliveryRow.from_row(row) for row in self._all("open_intents")]

    def give_back_work(self) -> None:
        """Let everything that was being worked on wait again."""
        self._one("give_back_work")

    # Folders

    def use_folder(self, folder: Path) -> None:
        """Note that a destination's folder is there and in use."""
        self._one("use_folder", path=os.fsencode(folder))

    def has_used(self, folder: Path) -> bool:
        """Return whether a destination's folder was used before."""
        return self._one("used_folder", path=os.fsencode(folder)) is not None

    def used_folders(self) -> list[Path]:
        """Return all destination folders that were used."""
        return [Path(os.fsdecode(row["path"])) for row in self._all("used_folders")]

    # What it knows

    def records(self) -> Iterator[Record]:
        """Yield the record of every delivery that stands or was taken back, oldest first."""
        for row in self._connection.execute(query("records")):
            record = Record.model_validate_json(row["record"])
            yield record.model_copy(update={"delivered_at": row["delivered_at"], "state": row["state"]})

    def held(self) -> list[OriginalRow]:
        """Return what waits for its owner."""
        return [OriginalRow.from_row(row) for row in self._all("held")]

    def counts(self) -> dict[tuple[str, OriginalState], int]:
        """Return how many originals there are, by photographer and state."""
        return {(row["photographer"], OriginalState(row["state"])): row["number"] for row in self._all("counts")}


def _stored(fingerprint: Fingerprint) -> dict[str, int]:
    """Return a fingerprint as SQLite can hold it: its integers are signed and have 64 bits."""
    inode = fingerprint.inode if fingerprint.inode < 2**63 else fingerprint.inode - 2**64
    return {"size": fingerprint.size, "mtime_ns": fingerprint.mtime_ns, "inode": inode}
