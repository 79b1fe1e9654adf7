"""The ledger's verbs. One writer: the main process."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable
from pathlib import Path
from typing import Self

from lanternslide.ledger.database import (
    faults_of,
    open_database,
    open_empty,
    open_to_read,
    place_of,
    query,
    stored_place,
)
from lanternslide.ledger.folders import Folders
from lanternslide.ledger.older import OlderWork
from lanternslide.ledger.reading import Reading
from lanternslide.ledger.rows import (
    DeliveryRow,
    Kept,
    Known,
    OriginalRow,
    OriginalState,
    Published,
    Replaced,
    Standing,
    Wanted,
    below,
    stored_fingerprint,
)
from lanternslide.ledger.sheets import Sheets
from lanternslide.ledger.store import storage
from lanternslide.records import DroppedFile, Fingerprint
from lanternslide.words import Said

__all__ = ["Ledger"]

LEDGER_FILE = "ledger.sqlite"
"""The ledger's file in a state folder."""


class Ledger(Reading, Sheets, Folders, OlderWork):
    """What was seen, what is to be made, what stands published."""

    def __init__(self, folder: Path, connection: sqlite3.Connection | None = None) -> None:
        self.folder = folder  #: The state folder.
        super().__init__(connection or open_database(folder / LEDGER_FILE))
        self._folders = {}
        self._connection.create_function("place_of", 1, stored_place, deterministic=True)
        self.name: str = self._one("ledger_name")["name"]  #: Tells this ledger's temporary files from others'.

    @classmethod
    def to_read(cls, folder: Path) -> Self | None:
        """Return the ledger for reading alone, beside a running service; None if there is none yet."""
        connection = open_to_read(folder / LEDGER_FILE)
        return None if connection is None else cls(folder, connection)

    @classmethod
    def empty(cls, folder: Path) -> Self:
        """Return a ledger that knows nothing and is kept nowhere, in place of one that is not there yet."""
        return cls(folder, open_empty())

    # Originals

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

    def original(self, number: int) -> OriginalRow:
        """Return one original."""
        return OriginalRow.from_row(self._one("original", id=number))

    def originals_below(self, photographer: str, path: Path) -> list[OriginalRow]:
        """Return a photographer's pictures at a path below the drop folder, or in that folder."""
        return [
            OriginalRow.from_row(row) for row in self._all("originals_below", photographer=photographer, **below(path))
        ]

    def originals_filed(self, path: Path) -> list[OriginalRow]:
        """Return the pictures that are filed away at a path, or in that folder."""
        return [OriginalRow.from_row(row) for row in self._all("originals_filed", **below(path))]

    def waiting_where_filed(self, photographer: str) -> list[OriginalRow]:
        """Return a photographer's pictures that are to be made again from where they are filed away."""
        return [OriginalRow.from_row(row) for row in self._all("waiting_where_filed", photographer=photographer)]

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
        owner, path = file.photographer, os.fsencode(file.relative)
        with self._unhurried(), self._together():
            row = self._one(
                "take_in",
                photographer=owner, picture=os.fsencode(picture), path=path,
                filed_to=None if file.filed is None else os.fsencode(file.filed), **_stored(file.fingerprint),
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

    # Deliveries

    def want(self, original: int, digest: str, wanted: Iterable[Wanted]) -> list[DeliveryRow]:
        """Note what an original with this *digest* asks for; return the deliveries that are still to be made.

        Where there are some, a worker is about to have it.
        """
        with self._unhurried(), self._together():
            self._one("forget_wishes", original=original)
            for item in wanted:
                self._one(
                    "want",
                    original=original, digest=digest,
                    destination=item.destination, density=item.density, recipe=item.recipe,
                )  # fmt: skip
            if self._one("is_recalled", original=original) is not None:
                self._one("learn_recalls", original=original, digest=digest)
                self._one("end_recalls", original=original, digest=digest)
                self._one("obey_recalls", original=original, digest=digest)
            rows = [row for row in self.deliveries_of(original) if row.wanted and row.state == "waiting"]
            self._one("surveyed", id=original, digest=digest, begins=bool(rows))
        return rows

    def deliveries_of(self, original: int) -> list[DeliveryRow]:
        """Return all deliveries of an original."""
        return [DeliveryRow.from_row(row) for row in self._all("deliveries_of", original=original)]

    def intend(
        self,
        delivery: int,
        intent: Published,
        *,
        made_from: str,
        kept: Kept,
        inherits: bool = False,
    ) -> None:
        """Note, before the rename, what is about to stand where, and whether it takes a name over from another."""
        self._one(
            "intend",
            id=delivery, path=os.fsencode(intent.path), size=intent.size, digest=intent.digest,
            place=place_of(intent.path), inherits=inherits, made_from=made_from, **kept.stored(),
        )  # fmt: skip

    def confirm_first(self, delivery: int, delivered_at: str) -> None:
        """Note, after the rename, that a delivery stands that never stood, under a name that nobody had."""
        self._one("confirm", id=delivery, delivered_at=delivered_at)

    def confirm(self, delivery: int, delivered_at: str) -> None:
        """Note, after the rename, that the delivery stands: not where it stood; a name that it inherits is its own."""
        with self._together():
            self._one("gone_with_its_name", id=delivery)
            self._one("inherit", id=delivery)
            self._one("leave_behind", id=delivery)
            self._one("not_left_behind", id=delivery)
            self._one("confirm", id=delivery, delivered_at=delivered_at)

    def take_back_intent(self, delivery: int) -> None:
        """Note that the rename did not happen; the delivery is to be made again."""
        self._one("take_back_intent", id=delivery)

    def set_aside_intent(self, delivery: int) -> None:
        """Note what may stand where its destination had another folder, and let the delivery be made again."""
        with self._together():
            self._one("set_aside_intent", id=delivery)
            self._one("take_back_intent", id=delivery)

    def leave_out(self, delivery: int, made_from: str) -> None:
        """Note that the original is too small for this delivery; what stands of it is to be deleted then."""
        with self._unhurried():
            self._one("leave_out", id=delivery, made_from=made_from)

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
        with self._unhurried():
            filed = None if file is None or file.filed is None else os.fsencode(file.filed)
            self._one("finish", id=original, state=state.value, filed_to=filed, lies=file is not None)
        return state

    def owner_of(self, path: Path) -> DeliveryRow | None:
        """Return the delivery that a published file belongs to, also under a name equal but for case or normal form."""
        row = self._one("owner_of_output", path=os.fsencode(path), place=place_of(path))
        return DeliveryRow.from_row(row) if row else None

    def deliveries_of_size(self, photographer: str, size: int) -> list[DeliveryRow]:
        """Return a photographer's deliveries whose files have, or had before they were taken back, so many bytes."""
        return [
            DeliveryRow.from_row(row) for row in self._all("deliveries_of_size", photographer=photographer, size=size)
        ]

    # What its owner asks for

    def retry(self, original: int) -> None:
        """Let an original be tried again from the beginning; what was taken back of it comes back."""
        with self._together():
            self._one("retry", id=original)
            self._one("forget_recalls", original=original)
            for row in self.deliveries_of(original):
                if row.state == "withdrawn":
                    self._one("redo", id=row.id)

    def retry_held(self, original: int) -> None:
        """Let a held original be tried again from the beginning; what was taken back of it stays away."""
        self._one("retry", id=original)

    def retry_held_for(self, reason_key: str) -> None:
        """Let originals be tried again that are held for one reason."""
        self._one("retry_held_for", reason_key=reason_key)

    def withdraw(self, original: int, destination: str | None, fingerprint: Fingerprint | None) -> None:
        """Note that what an original was delivered to, or to one destination, is taken back; before files are deleted.

        It stays so while the file has the bytes that it has now: *fingerprint* is how it looks, None if it is gone.
        What is being published at this moment is taken back by `recalled_but_standing` afterwards.
        """
        row = self.original(original)
        same = fingerprint is None or fingerprint == row.fingerprint
        now = _stored(fingerprint or row.fingerprint)
        with self._together():
            self._one(
                "recall", original=original, destination=destination or "", digest=row.digest if same else None, **now
            )
            for delivery in self.deliveries_of(original):
                if destination in (None, delivery.destination):
                    self._one("withdraw", id=delivery.id)
            if destination is None:
                self._one("bind", id=original, **now)
        if destination is not None and row.state is OriginalState.DELIVERED:
            self.finish(original)

    def recalled_but_standing(self) -> list[DeliveryRow]:
        """Return deliveries that stand although they were taken back; they are noted as withdrawn now."""
        rows = [DeliveryRow.from_row(row) for row in self._all("recalled_but_standing")]
        for row in rows:
            self._one("withdraw", id=row.id)
        return rows

    def earlier_of(self, original: int) -> list[tuple[str, Published]]:
        """Return where deliveries of an original stood before they stood elsewhere, with their destinations."""
        return [
            (row["destination"], Published(path=Path(os.fsdecode(row["path"])), size=row["size"], digest=row["digest"]))
            for row in self._all("earlier_of", original=original)
        ]

    def replaced(self, delivery: int | None = None) -> list[Replaced]:
        """Return what deliveries that stand, or one of them, have left where they stood before."""
        rows = self._all("replaced") if delivery is None else self._all("replaced_by", delivery=delivery)
        return [
            Replaced(
                photographer=row["photographer"],
                original=Path(os.fsdecode(row["original"])),
                destination=row["destination"],
                left=Published(path=Path(os.fsdecode(row["path"])), size=row["size"], digest=row["digest"]),
                stands=Path(os.fsdecode(row["output"])),
            )
            for row in rows
        ]

    def standing(self, destination: str) -> list[Standing]:
        """Return what stands of a destination."""
        return [Standing.from_row(row) for row in self._all("standing", destination=destination)]

    def recalled_earlier(self) -> list[tuple[OriginalRow, str | None]]:
        """Return recalled originals of which something stands where it was put before, and which destination it was."""
        return [(self.original(row["original"]), row["destination"] or None) for row in self._all("recalled_earlier")]

    def earlier_at(self, path: Path) -> tuple[int, Published] | None:
        """Return which delivery has left something at a path where it stood before, and what."""
        row = self._one("earlier_at", path=os.fsencode(path))
        return None if row is None else (row["delivery"], Published(path=path, size=row["size"], digest=row["digest"]))

    def forget_earlier(self, path: Path) -> None:
        """Note that what stood there is gone, or not ours any more."""
        self._one("forget_earlier", path=os.fsencode(path))

    def withdrawn(self, delivery: int) -> None:
        """Note that the file of a delivery that was taken back or left out is deleted, or is not ours any more."""
        self._one("withdrawn", id=delivery)

    def open_withdrawals(self) -> list[DeliveryRow]:
        """Return deliveries that are taken back or left out and whose files may still stand."""
        return [DeliveryRow.from_row(row) for row in self._all("open_withdrawals")]

    def file_away(self, original: int, path: Path) -> None:
        """Note, before it is moved, where a finished original is filed away."""
        self._one("file_away", id=original, path=os.fsencode(path))

    def back_to_filed(self, file: DroppedFile, original: int) -> OriginalState:
        """Note that an original is what is filed away again; return whether anything is left to be made of it."""
        with self._together():
            self._one("back_to_filed", id=original, path=os.fsencode(file.relative), **_stored(file.fingerprint))
        return self.finish(original)

    def noted(self, name: str) -> str | None:
        """Return what was noted under *name*, None if nothing was."""
        row = self._one("noted", item=name)
        return None if row is None else str(row["value"])

    def note(self, name: str, value: str) -> None:
        """Note what the service is run with."""
        self._one("note", item=name, value=value)

    def noted_below(self, prefix: str) -> list[tuple[str, str]]:
        """Return what was noted under names that begin with *prefix*, with the rest of the names."""
        return [(row["name"], row["value"]) for row in self._all("noted_below", prefix=prefix)]

    def known_destinations(self) -> set[str]:
        """Return every destination that something was ever asked for."""
        return {row["destination"] for row in self._all("known_destinations")}

    def newest(self) -> dict[str, str]:
        """Return when something was last delivered to each destination (RFC 3339)."""
        return {row["destination"]: row["delivered_at"] for row in self._all("newest")}

    # Recovery

    def open_intents(self) -> list[DeliveryRow]:
        """Return the deliveries whose rename may or may not have happened."""
        return [DeliveryRow.from_row(row) for row in self._all("open_intents")]

    def give_back(self, original: int) -> None:
        """Let an original that was being worked on wait again."""
        self._one("give_back", id=original)

    def give_back_work(self) -> None:
        """Let everything that was being worked on wait again."""
        self._one("give_back_work")

    # What it knows

    def faults(self) -> list[str]:
        """Return what is wrong inside the database; empty if nothing is."""
        return faults_of(self._connection)


def _stored(fingerprint: Fingerprint) -> dict[str, int]:
    size, mtime_ns, inode = stored_fingerprint(fingerprint)
    return {"size": size, "mtime_ns": mtime_ns, "inode": inode}
