"""What the ledger knows of originals: what was seen, what is held, where finished ones lie."""

from __future__ import annotations

import os
from contextlib import nullcontext
from pathlib import Path

from lanternslide.ledger.database import query
from lanternslide.ledger.rows import Known, OriginalRow, OriginalState, below, stored_fingerprint
from lanternslide.ledger.store import Store, storage
from lanternslide.records import DroppedFile, Fingerprint
from lanternslide.words import Said

__all__ = ["Originals", "as_columns"]


class Originals(Store):
    """Pictures as their owners drop them, each once."""

    def known_of(self, photographer: str) -> dict[bytes, Known]:
        """Return what is known of a photographer's pictures, by their present path below the drop folder."""
        states = {state.value: state for state in OriginalState}
        with storage():
            rows = self._connection.execute(query("known_of"), {"photographer": photographer})
            rows.row_factory = None
            return {
                path: Known((size, mtime_ns, inode), states[state], reason_key, number, bool(older))
                for path, size, mtime_ns, inode, state, reason_key, number, older in rows
            }

    def get(self, number: int) -> OriginalRow:
        """Return one original."""
        return OriginalRow.from_row(self._one("original", id=number))

    def below(self, photographer: str, path: Path) -> list[OriginalRow]:
        """Return a photographer's pictures at a path below the drop folder, or in that folder."""
        return [
            OriginalRow.from_row(row) for row in self._all("originals_below", photographer=photographer, **below(path))
        ]

    def filed_at(self, path: Path) -> list[OriginalRow]:
        """Return the pictures that are filed away at a path, or in that folder."""
        return [OriginalRow.from_row(row) for row in self._all("originals_filed", **below(path))]

    def waiting_where_filed(self, photographer: str) -> list[OriginalRow]:
        """Return a photographer's pictures that are to be made again from where they are filed away."""
        return [OriginalRow.from_row(row) for row in self._all("waiting_where_filed", photographer=photographer)]

    def at(self, photographer: str, path: Path) -> list[OriginalRow]:
        """Return what is known under one path."""
        rows = self._all("originals_at", photographer=photographer, path=os.fsencode(path))
        return [OriginalRow.from_row(row) for row in rows]

    def of_picture(self, photographer: str, picture: Path) -> OriginalRow | None:
        """Return what is known of one picture."""
        row = self._one("original_of_picture", photographer=photographer, picture=os.fsencode(picture))
        return OriginalRow.from_row(row) if row else None

    def take_in(self, file: DroppedFile, picture: Path) -> OriginalRow:
        """Note an original that has settled; it waits to be done."""
        owner, path = file.photographer, os.fsencode(file.relative)
        with self._unhurried(), self._together():
            row = self._one(
                "take_in",
                photographer=owner, picture=os.fsencode(picture), path=path,
                filed_to=None if file.filed is None else os.fsencode(file.filed), **as_columns(file.fingerprint),
            )  # fmt: skip
            self._one("supersede", photographer=owner, path=path, id=row["id"])
        return OriginalRow.from_row(row)

    def hold(self, original: int, said: Said, held_at: str) -> None:
        """Note that an original waits for its owner, why, and since when (RFC 3339)."""
        self._one("hold", id=original, reason=said.text, reason_key=said.key, held_at=held_at)

    def set_state(self, original: int, state: OriginalState) -> None:
        """Note what an original is at."""
        with self._unhurried():
            self._one("set_state", id=original, state=state.value)

    def count_attempt(self, original: int) -> int:
        """Note a failed attempt and return how many there were."""
        attempts: int = self._one("count_attempt", id=original)["attempts"]
        return attempts

    def finish(self, original: int, file: DroppedFile | None = None) -> OriginalState:
        """Note that nothing more can be made of an original now, and return its state.

        It is delivered if nothing that it asks for is left, withdrawn if all of that was taken back, else it waits.
        With the *file* that was delivered it is noted where that lies, whatever a former export was filed to.
        """
        found = self._one("outcome", original=original)
        state = OriginalState.DELIVERED
        if found["unfinished"]:
            state = OriginalState.WAITING
        elif found["withdrawn"] == found["number"] > 0:
            state = OriginalState.WITHDRAWN
        filed = None if file is None or file.filed is None else os.fsencode(file.filed)
        # Where an original lies must outlast a power cut: it may lie nowhere else.
        is_moved = file is not None and state is OriginalState.DELIVERED and filed != found["filed_to"]
        with nullcontext() if is_moved else self._unhurried():
            self._one("finish", id=original, state=state.value, filed_to=filed, lies=file is not None)
        return state

    def give_back(self, original: int) -> None:
        """Let an original that was being worked on wait again."""
        self._one("give_back", id=original)

    def give_back_work(self) -> None:
        """Let everything that was being worked on wait again."""
        self._one("give_back_work")

    def file_away(self, original: int, path: Path) -> None:
        """Note, before it is moved, where a finished original is filed away."""
        self._one("file_away", id=original, path=os.fsencode(path))

    def back_to_filed(self, file: DroppedFile, original: int) -> OriginalState:
        """Note that an original is what is filed away again; return whether anything is left to be made of it."""
        with self._together():
            self._one("back_to_filed", id=original, path=os.fsencode(file.relative), **as_columns(file.fingerprint))
        return self.finish(original)

    def retry_held(self, original: int) -> None:
        """Let a held original be tried again from the beginning; what was taken back of it stays away."""
        self._one("retry", id=original)

    def retry_held_for(self, reason_key: str) -> None:
        """Let originals be tried again that are held for one reason."""
        self._one("retry_held_for", reason_key=reason_key)


def as_columns(fingerprint: Fingerprint) -> dict[str, int]:
    """Return how a file looks as columns of table original."""
    size, mtime_ns, inode = stored_fingerprint(fingerprint)
    return {"size": size, "mtime_ns": mtime_ns, "inode": inode}
