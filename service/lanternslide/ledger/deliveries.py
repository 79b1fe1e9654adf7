"""What the ledger knows of deliveries: what is to be made, what is about to be renamed, what stands, and stood."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from lanternslide.ledger.database import place_of
from lanternslide.ledger.rows import DeliveryRow, DeliveryState, Kept, Published, Replaced, Standing, Wanted
from lanternslide.ledger.store import Store

__all__ = ["Deliveries"]


class Deliveries(Store):
    """One row for each original, destination and density."""

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
            rows = [row for row in self.of_original(original) if row.wanted and row.state == DeliveryState.WAITING]
            self._one("surveyed", id=original, digest=digest, begins=bool(rows))
        return rows

    def of_original(self, original: int) -> list[DeliveryRow]:
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
        """Note, after the rename, that a delivery stands, what it left elsewhere, and which name it inherits."""
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

    def owner_of(self, path: Path) -> DeliveryRow | None:
        """Return the delivery that a published file belongs to, also under a name equal but for case or normal form."""
        row = self._one("owner_of_output", path=os.fsencode(path), place=place_of(path))
        return DeliveryRow.from_row(row) if row else None

    def of_size(self, photographer: str, size: int) -> list[DeliveryRow]:
        """Return a photographer's deliveries whose files have, or had before they were taken back, so many bytes."""
        return [
            DeliveryRow.from_row(row) for row in self._all("deliveries_of_size", photographer=photographer, size=size)
        ]

    def standing(self, destination: str) -> list[Standing]:
        """Return what stands of a destination."""
        return [Standing.from_row(row) for row in self._all("standing", destination=destination)]

    def open_intents(self) -> list[DeliveryRow]:
        """Return the deliveries whose rename may or may not have happened."""
        return [DeliveryRow.from_row(row) for row in self._all("open_intents")]

    def known_destinations(self) -> set[str]:
        """Return every destination that something was ever asked for."""
        return {row["destination"] for row in self._all("known_destinations")}

    def newest(self) -> dict[str, str]:
        """Return when something was last delivered to each destination (RFC 3339)."""
        return {row["destination"]: row["delivered_at"] for row in self._all("newest")}

    def earlier_at(self, path: Path) -> tuple[int, Published] | None:
        """Return which delivery has left something at a path where it stood before, and what."""
        row = self._one("earlier_at", path=os.fsencode(path))
        return None if row is None else (row["delivery"], Published(path=path, size=row["size"], digest=row["digest"]))

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

    def forget_earlier(self, path: Path) -> None:
        """Note that what stood there is gone, or not ours any more."""
        self._one("forget_earlier", path=os.fsencode(path))
