"""What proof sheets ask of the ledger."""

from __future__ import annotations

from datetime import date

from lanternslide.ledger.rows import Day, ShownRow
from lanternslide.ledger.store import Store

__all__ = ["Sheets"]


class Sheets(Store):
    """Deliveries by photographer and day."""

    def shown_between(self, photographer: str, start: str, end: str) -> list[ShownRow]:
        """Return a photographer's deliveries from *start* on, before *end* (RFC 3339, UTC), oldest first."""
        rows = self._all("shown_between", photographer=photographer, start=start, end=end)
        return [ShownRow.from_row(row) for row in rows]

    def days_of(self, photographer: str, start: str) -> list[Day]:
        """Return the days of this machine's calendar on which a photographer got deliveries since *start*."""
        return [
            Day(
                day=date.fromisoformat(row["day"]),
                deliveries=row["number"],
                withdrawn=row["withdrawn"],
                sums=(row["numbers"], row["times"]),
            )
            for row in self._all("days_of", photographer=photographer, start=start)
        ]
