"""Asking whether a folder answers, so that a share whose server hangs stops nobody else."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

__all__ = ["Probe"]

DEADLINE_SECONDS = 3.0
"""A folder that takes longer is taken for one that is away."""

FRESH_SECONDS = 1.0
"""For so long a folder that has answered is not asked again."""


class Probe:
    """Looks at folders from threads of their own: a call to a share that hangs cannot be broken off."""

    def __init__(self, deadline: float = DEADLINE_SECONDS) -> None:
        self._deadline = deadline
        self._asking: dict[Path, threading.Thread] = {}
        self._answered: dict[Path, float] = {}

    def answers(self, folder: Path) -> bool:
        """Return whether the system answers when asked about *folder* (also if the answer is that it is not there)."""
        now = time.monotonic()
        if now < self._answered.get(folder, 0.0) + FRESH_SECONDS:
            return True
        thread = self._asking.get(folder)
        if thread is None:
            thread = threading.Thread(target=_look, args=(folder,), name="probe", daemon=True)
            self._asking[folder] = thread
            thread.start()
            thread.join(self._deadline)
        if thread.is_alive():
            return False
        del self._asking[folder]
        self._answered[folder] = now
        return True


def _look(folder: Path) -> None:
    try:
        with os.scandir(folder) as entries:
            next(entries, None)
    except OSError:  # an answer as well
        return
