"""What other threads and signal handlers leave for the main loop."""

from __future__ import annotations

import queue
from dataclasses import dataclass
from typing import TypeAlias

from lanternslide.intake.hints import Hint, Lost
from lanternslide.workers.executor import Answer, News

__all__ = ["Inbox", "Reload", "Stop"]


@dataclass(frozen=True, slots=True)
class Stop:
    """Stop in order."""


@dataclass(frozen=True, slots=True)
class Reload:
    """Read the config again."""


Message: TypeAlias = Answer | News | Hint | Lost | Stop | Reload


class Inbox:
    """A queue that threads and signal handlers may put messages into."""

    def __init__(self) -> None:
        # SimpleQueue.put is reentrant, so that a signal handler may call it (Python documentation, queue).
        self._queue: queue.SimpleQueue[Message] = queue.SimpleQueue()

    def put(self, item: Message) -> None:
        """Leave *item*."""
        self._queue.put(item)

    def has_stop(self) -> bool:
        """Return whether somebody has asked for a stop; everything stays to be read."""
        items = self.read(0)
        for item in items:
            self.put(item)
        return any(isinstance(item, Stop) for item in items)

    def read(self, seconds: float) -> list[Message]:
        """Return all messages, each hint once, after waiting up to *seconds* for the first."""
        hints: dict[Message, None] = {}
        others: list[Message] = []
        try:
            item = self._queue.get(timeout=seconds) if seconds > 0 else self._queue.get_nowait()
            while True:
                if isinstance(item, Hint):
                    hints[item] = None
                else:
                    others.append(item)
                item = self._queue.get_nowait()
        except queue.Empty:
            return [*others, *hints]
