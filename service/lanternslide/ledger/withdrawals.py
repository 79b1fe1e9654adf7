"""What its owner takes back, and asks back."""

from __future__ import annotations

import sqlite3

from lanternslide.ledger.deliveries import Deliveries
from lanternslide.ledger.originals import Originals, as_columns
from lanternslide.ledger.rows import DeliveryRow, DeliveryState, OriginalRow, OriginalState
from lanternslide.ledger.store import Store
from lanternslide.records import Fingerprint

__all__ = ["Withdrawals"]


class Withdrawals(Store):
    """Recalls: they hold while an original has the bytes that it had, for deliveries that do not exist yet, too."""

    def __init__(self, connection: sqlite3.Connection, originals: Originals, deliveries: Deliveries) -> None:
        super().__init__(connection)
        self._originals = originals
        self._deliveries = deliveries

    def retry(self, original: int) -> None:
        """Let an original be tried again from the beginning; what was taken back of it comes back."""
        with self._together():
            self._one("retry", id=original)
            self._one("forget_recalls", original=original)
            for row in self._deliveries.of_original(original):
                if row.state == DeliveryState.WITHDRAWN:
                    self._one("redo", id=row.id)

    def withdraw(self, original: int, destination: str | None, fingerprint: Fingerprint | None) -> None:
        """Note that what an original was delivered to, or to one destination, is taken back; before files are deleted.

        It stays so while the file has the bytes that it has now: *fingerprint* is how it looks, None if it is gone.
        What is being published at this moment is taken back by `note_recalled` afterwards.
        """
        row = self._originals.get(original)
        same = fingerprint is None or fingerprint == row.fingerprint
        now = as_columns(fingerprint or row.fingerprint)
        with self._together():
            self._one(
                "recall", original=original, destination=destination or "", digest=row.digest if same else None, **now
            )
            for delivery in self._deliveries.of_original(original):
                if destination in (None, delivery.destination):
                    self._one("withdraw", id=delivery.id)
            if destination is None:
                self._one("bind", id=original, **now)
        if destination is not None and row.state is OriginalState.DELIVERED:
            self._originals.finish(original)

    def note_recalled(self) -> list[DeliveryRow]:
        """Return deliveries that stand although they were taken back; they are noted as withdrawn now."""
        rows = [DeliveryRow.from_row(row) for row in self._all("recalled_but_standing")]
        for row in rows:
            self._one("withdraw", id=row.id)
        return rows

    def recalled_earlier(self) -> list[tuple[OriginalRow, str | None]]:
        """Return recalled originals of which something stands where it was put before, and which destination it was."""
        return [
            (self._originals.get(row["original"]), row["destination"] or None) for row in self._all("recalled_earlier")
        ]

    def note_withdrawn(self, delivery: int) -> None:
        """Note that the file of a delivery that was taken back or left out is deleted, or is not ours any more."""
        self._one("withdrawn", id=delivery)

    def open(self) -> list[DeliveryRow]:
        """Return deliveries that are taken back or left out and whose files may still stand."""
        return [DeliveryRow.from_row(row) for row in self._all("open_withdrawals")]
