"""Asking whether a folder answers, so that a share whose server hangs stops nobody else."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import TypeVar

__all__ = ["Probe", "SilentError"]

DEADLINE_SECONDS = 3.0
"""A folder that takes longer is taken for one that is away."""

FRESH_SECONDS = 0.25
"""For so long a folder that has answered is not asked again. One that begins to hang in this time stops the service."""


READ_SECONDS, MOST_READ_SECONDS = 10.0, 120.0
"""A folder that shows nothing more for so long while it is read is taken for one that hangs.

It may only be slow: each time it is given up, it gets twice the time the next time, up to the second.
"""

TOGETHER = 256
"""So many items go from one thread to the other at once, at most."""

TOGETHER_SECONDS = 0.2
"""And none waits longer for others."""

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

    def read(self, folder: Path, items: Iterator[T], *, seconds: float = READ_SECONDS) -> Iterator[T]:
        """Yield *items*, which are read from *folder*, or from below it, in a thread of their own.

        Raises
        ------
        SilentError
            If nothing more comes for so many *seconds*; *folder* counts as silent until the thread has come to its end.
        Exception
            Whatever reading them raises.
        """
        read: SimpleQueue[list[T] | Exception | None] = SimpleQueue()
        patience = self._patience.get(folder, seconds)
        thread = threading.Thread(target=_read, args=(items, read.put), name="reading", daemon=True)
        self._asking[folder] = thread
        thread.start()
        while True:
            try:
                found = read.get(timeout=patience)
            except Empty:
                self._patience[folder] = min(2 * patience, MOST_READ_SECONDS)
                raise SilentError from None
            if found is None or isinstance(found, Exception):
                thread.join()
                self._note_answers()
                self._patience.pop(folder, None)
                if found is None:
                    return
                raise found
            yield from found

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


def _read(items: Iterator[T], put: Callable[[list[T] | Exception | None], None]) -> None:
    """Put *items* in parts, then None; or what they raise."""
    part: list[T] = []
    since = time.monotonic()
    try:
        for item in items:
            part.append(item)
            if len(part) >= TOGETHER or time.monotonic() > since + TOGETHER_SECONDS:
                put(part)
                part, since = [], time.monotonic()
    except Exception as error:  # noqa: BLE001 - raised again by who reads
        put(error)
    else:
        put(part)
        put(None)
