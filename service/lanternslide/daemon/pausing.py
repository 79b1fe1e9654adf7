"""A pause while the state folder is away: nothing is published that the ledger could not keep."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from lanternslide.daemon.inbox import Inbox
from lanternslide.errors import StateAwayError
from lanternslide.ledger import Presence
from lanternslide.report.obstacles import Obstacles
from lanternslide.words import Passing, say

__all__ = ["Pause"]

LOOK_SECONDS = 0.25


class Pause:
    """Waits until the state folder is back."""

    def __init__(self, folder: Path, presence: Presence, inbox: Inbox, obstacles: Obstacles) -> None:
        self._folder = folder
        self._presence = presence
        self._inbox = inbox
        self._obstacles = obstacles

    def keep(self, tick: Callable[[], None], *, until_idle: bool) -> None:
        """Return at once while the folder is there, else when it is back; *tick* is called meanwhile.

        Raises
        ------
        StateAwayError
            If the service is to stop meanwhile, or, with *until_idle*, at once.
        """
        if self._presence.is_there():
            return
        self._obstacles.meet("state folder", say(Passing.STATE_AWAY, folder=self._folder))
        while not self._presence.is_there():
            if until_idle or self._inbox.has_stop():
                raise StateAwayError(str(self._folder))
            tick()
            time.sleep(LOOK_SECONDS)
        self._obstacles.pass_by("state folder")
