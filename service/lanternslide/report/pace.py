"""How far the work has come and how long it will still take, by what was made so far."""

from __future__ import annotations

import time
from collections.abc import Callable

from lanternslide.records.events import Behind, Event, Finished, Found, Idle, Started, Waits

__all__ = ["Pace"]

LEAST_MADE = 5
LEAST_SECONDS = 5.0
"""With less than that made, or in less time, nothing can be said of the rest."""


class Pace:
    """Counts originals from the first that is found until nothing is left to do; a listener.

    The time between two that are finished belongs to the second one. What was merely looked at says nothing about how
    long making takes, so its time is not counted, nor is that in which something was in the way. All that is left is
    taken for what is to be made.

    Parameters
    ----------
    clock
        Returns monotonic seconds.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._begin()

    def _begin(self) -> None:
        self.done = 0  #: Originals that need nothing more for now.
        self._open: set[str] = set()  # found and not finished
        self._behind = 0
        self._since: float | None = None
        self._made = 0
        self._seconds = 0.0

    def __call__(self, event: Event) -> None:
        """Count *event*."""
        match event:
            case Found(file=file):
                self._open.add(file.shown)
            case Behind(number=number):
                self._behind = number
            case Started() if self._since is None:
                self._since = self._clock()
            case Finished(file=file, changed=changed):
                self._open.discard(file.shown)
                self.done += 1
                self._finish(changed=changed)
            case Waits() if self._since is not None:
                self._since = self._clock()
            case Idle():
                self._begin()
            case _:
                pass

    def _finish(self, *, changed: bool) -> None:
        now = self._clock()
        if changed and self._since is not None:
            self._made += 1
            self._seconds += now - self._since
        if self._since is not None:
            self._since = now

    @property
    def all(self) -> int:
        """How many originals there are, as far as is known."""
        return self.done + len(self._open) + self._behind

    @property
    def seconds_left(self) -> float | None:
        """How long what is left will take, in seconds; None where too little was made to tell."""
        if self._made < LEAST_MADE or self._seconds < LEAST_SECONDS:
            return None
        return self._seconds / self._made * (self.all - self.done)
