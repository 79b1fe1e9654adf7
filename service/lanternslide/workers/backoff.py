"""Growing pauses for what may pass by itself."""

from __future__ import annotations

from collections.abc import Hashable

__all__ = ["Backoff"]

FIRST_SECONDS = 5.0
LONGEST_SECONDS = 600.0


class Backoff:
    """Remembers how often each thing was in the way; a pause doubles each time, up to ten minutes."""

    def __init__(self) -> None:
        self._times: dict[Hashable, int] = {}

    def next_pause(self, what: Hashable) -> float:
        """Return how long to wait before *what* is tried again, in seconds."""
        times = self._times.get(what, 0)
        self._times[what] = times + 1
        return float(min(FIRST_SECONDS * 2 ** min(times, 16), LONGEST_SECONDS))

    def forget(self, what: Hashable) -> None:
        """Begin anew: *what* is no longer in the way."""
        self._times.pop(what, None)
