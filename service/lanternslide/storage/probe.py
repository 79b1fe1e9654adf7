"""Asking whether a folder answers, so that a share whose server hangs stops nobody else."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Generic, TypeVar

__all__ = ["Probe", "SilentError"]

DEADLINE_SECONDS = 3.0
"""A folder that takes longer is taken for one that is away."""

FRESH_SECONDS = 0.25
"""For so long a folder that has answered is not asked again. One that begins to hang in this time stops the service."""


READ_SECONDS, MOST_READ_SECONDS = 10.0, 30.0
"""A folder in which nothing more is found for so long while it is read is taken for one that hangs.

It may only be slow: each time it is given up, it gets twice the time the next time, up to the second. Everybody waits
for as long, but signs of life are given meanwhile.
"""

TICK_SECONDS = 1.0

TOGETHER, TOGETHER_SECONDS = 256, 0.2
"""How many items go from one thread to the other at once, or what was found in this time."""

T = TypeVar("T")


class SilentError(OSError):
    """A folder has stopped answering while it was read."""


class Probe:
    """Looks at folders from threads of their own: a call to a share that hangs cannot be broken off.

    One for the whole service: a folder that hangs keeps one thread, however often it is asked about.
    """

    def __init__(self, deadline: float = DEADLINE_SECONDS) -> None:
        self._deadline = deadline
        self._asking: dict[Path, threading.Thread] = {}
        self._answered: dict[Path, float] = {}
        self._patience: dict[Path, float] = {}  # seconds for folders that were given up while they were read

    def answers(self, folder: Path) -> bool:
        """Return whether the system answers when asked about *folder* (also if the answer is that it is not there)."""
        now = time.monotonic()
        if now < self._answered.get(folder, 0.0) + FRESH_SECONDS:
            return True
        self._note_answers()
        if any(folder.is_relative_to(silent) for silent in self._asking):
            return False
        thread = threading.Thread(target=_look, args=(folder,), name="probe", daemon=True)
        self._asking[folder] = thread
        thread.start()
        thread.join(self._deadline)
        self._note_answers()
        return folder not in self._asking

    def read(
        self, folder: Path, items: Iterator[T], seen: Callable[[], int], tick: Callable[[], None],
        *, seconds: float = READ_SECONDS,
    ) -> Iterator[T]:  # fmt: skip
        """Yield *items*, which are read from *folder*, or from below it, in a thread of their own.

        Parameters
        ----------
        seen
            Returns how much was come across, also of what yields no item: while that grows, the folder does not hang.
        tick
            Is called every second, and for each item.

        Raises
        ------
        SilentError
            If nothing more is seen for so many *seconds*; *folder* counts as silent until the thread has come to its
            end.
        Exception
            Whatever reading them raises.
        """
        reading = _Reading(items)
        self._asking[folder] = reading.thread
        reading.thread.start()
        try:
            yield from self._read(folder, reading, seen, tick, seconds)
        finally:
            reading.given_up.set()  # also where who reads has had enough

    def _read(
        self, folder: Path, reading: _Reading[T], seen: Callable[[], int], tick: Callable[[], None], seconds: float
    ) -> Iterator[T]:
        patience = self._patience.get(folder, seconds)
        last, since = seen(), time.monotonic()
        while True:
            try:
                found = reading.read.get(timeout=min(TICK_SECONDS, patience))
            except Empty:
                tick()
                now = time.monotonic()
                if seen() != last:
                    last, since = seen(), now
                elif now >= since + patience:
                    self._patience[folder] = min(2 * patience, max(MOST_READ_SECONDS, seconds))
                    raise SilentError from None
                continue
            if found is None or isinstance(found, Exception):
                reading.thread.join()
                self._note_answers()
                if found is None:
                    return
                raise found
            last, since = seen(), time.monotonic()
            for item in found:
                tick()
                yield item

    def _note_answers(self) -> None:
        for folder in [folder for folder, thread in self._asking.items() if not thread.is_alive()]:
            del self._asking[folder]
            self._answered[folder] = time.monotonic()


def _look(folder: Path) -> None:
    try:
        with os.scandir(folder) as entries:
            next(entries, None)
    except OSError:  # an answer as well
        return


class _Reading(Generic[T]):
    """Reads items in a thread and hands them on in parts, then None; or what reading them raises."""

    def __init__(self, items: Iterator[T]) -> None:
        self._items = items
        self.read: SimpleQueue[list[T] | Exception | None] = SimpleQueue()
        self.given_up = threading.Event()  #: Whether nobody wants them any more.
        self.thread = threading.Thread(target=self._run, name="reading", daemon=True)

    def _run(self) -> None:
        part: list[T] = []
        since = time.monotonic()
        try:
            for item in self._items:
                if self.given_up.is_set():
                    return
                part.append(item)
                if len(part) >= TOGETHER or time.monotonic() > since + TOGETHER_SECONDS:
                    self.read.put(part)
                    part, since = [], time.monotonic()
        except Exception as error:  # noqa: BLE001 - raised again by who reads
            self.read.put(error)
        else:
            self.read.put(part)
            self.read.put(None)
