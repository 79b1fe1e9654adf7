"""Asking whether a folder answers, so that a share whose server hangs stops nobody else."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

__all__ = ["Probe"]

DEADLINE_SECONDS = 3.0
"""A folder that takes longer is taken for one that is away."""

FRESH_SECONDS = 0.25
"""For so long a folder that has answered is not asked again. One that begins to hang in this time stops the service."""


class Probe:
    """Looks at folders from threads of their own: a call to a share that hangs cannot be broken off.

    One for the whole service: a folder that hangs keeps one thread, however often it is asked about.
    """

    def __init__(self, deadline: float = DEADLINE_SECONDS) -> None:
        self._deadline = deadline
        self._asking: dict[Path, threading.Thread] = {}
        self._answered: dict[Path, float] = {}

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
