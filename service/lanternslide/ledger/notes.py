"""What the service notes for itself, by name."""

from __future__ import annotations

from lanternslide.ledger.store import Store

__all__ = ["Notes"]


class Notes(Store):
    """Names and values."""

    def get(self, name: str) -> str | None:
        """Return what was noted under *name*, None if nothing was."""
        row = self._one("noted", item=name)
        return None if row is None else str(row["value"])

    def put(self, name: str, value: str) -> None:
        """Note what the service is run with."""
        self._one("note", item=name, value=value)

    def forget(self, name: str) -> None:
        """Note nothing under *name* any more."""
        self._one("forget_note", item=name)

    def below(self, prefix: str) -> list[tuple[str, str]]:
        """Return what was noted under names that begin with *prefix*, with the rest of the names."""
        return [(row["name"], row["value"]) for row in self._all("noted_below", prefix=prefix)]
