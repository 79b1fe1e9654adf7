"""What the ledger tells those who only read it, however much it knows."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path

from lanternslide.ledger.rows import OriginalRow, OriginalState, Unwanted
from lanternslide.ledger.store import Store
from lanternslide.records import OriginalFile, Record, shown_path, updated_line

__all__ = ["Reading"]


class Reading(Store):
    """How things stand, and the records of all that was done."""

    # How things stand

    def counts(self) -> dict[tuple[str, OriginalState], int]:
        """Return how many originals there are, by photographer and state."""
        return {(row["photographer"], OriginalState(row["state"])): row["number"] for row in self._all("counts")}

    def held(self) -> list[OriginalRow]:
        """Return what waits for its owner."""
        return [OriginalRow.from_row(row) for row in self._all("held")]

    def number_held(self, before: datetime | None = None) -> int:
        """Return how many originals wait for their owner, or since *before* then."""
        number: int = self._one("number_held", before=None if before is None else _stored(before))["number"]
        return number

    def first_in(self, state: OriginalState, photographers: Iterable[str], most: int) -> list[OriginalRow]:
        """Return originals of these *photographers* that are in a *state*, at most so many."""
        rows = self._all("first_in", state=state.value, photographers=_listed(photographers), most=most)
        return [OriginalRow.from_row(row) for row in rows]

    def unwanted(self, photographers: Iterable[str], most: int) -> tuple[int, list[Unwanted]]:
        """Return what stands published and its original, one of these *photographers'*, no longer asks for.

        It is told how many there are, and at most so many are returned.
        """
        rows = self._all("unwanted", photographers=_listed(photographers), most=most)
        return rows[0]["number"] if rows else 0, [Unwanted.from_row(row) for row in rows]

    # Records

    def record_lines(self, since: datetime | None = None) -> Iterator[str]:
        """Yield the record of every delivery that stands or was taken back, oldest first; those made *since* alone.

        Records are read as they are yielded, as things stood at the first one.
        """
        rows = self._each("records", since="" if since is None else _stored(since))
        for record, state, delivered_at, attempts, filed_to in rows:
            yield updated_line(
                record, state=state, attempts=attempts, filed_to=_shown(filed_to), delivered_at=delivered_at
            )

    def held_lines(self, since: datetime | None = None) -> Iterator[str]:
        """Yield a record of every original that waits for its owner, longest first; those held *since* alone.

        Where it is not known since when, the time of its file counts.
        """
        for row in self._each("held_since", since="" if since is None else _stored(since)):
            yield _held(OriginalRow.from_row(row)).to_line()


def _stored(time: datetime) -> str:
    """Return a time as the ledger writes it, so that texts compare as times do."""
    return time.astimezone(UTC).isoformat(timespec="seconds")


def _listed(names: Iterable[str]) -> str:
    return json.dumps(list(names))


def _held(row: OriginalRow) -> Record:
    return Record(
        original=shown_path(row.path),
        photographer=row.photographer,
        state="held",
        reason=row.reason,
        original_file=OriginalFile(bytes=row.fingerprint.size, digest=row.digest),
        attempts=row.attempts,
        filed_to=None if row.filed_to is None else shown_path(row.filed_to),
    )


def _shown(path: bytes | None) -> str | None:
    return None if path is None else shown_path(Path(os.fsdecode(path)))
