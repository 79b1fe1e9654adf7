"""Events of the drop folders: asked for where they come, checked, and asked for again when they have stopped."""

from __future__ import annotations

import errno
from collections.abc import Callable
from pathlib import Path

from lanternslide.intake.hints import Hint, Lost, Tell
from lanternslide.intake.watch import DropWatcher, watches_in_place
from lanternslide.report.obstacles import Obstacles
from lanternslide.storage import is_folder
from lanternslide.words import Passing, Said, say

__all__ = ["EventMonitor"]

CHECK_SECONDS = 5.0
"""How often it is checked whether events still come."""


class EventMonitor:
    """Keeps events coming.

    Parameters
    ----------
    wanted
        "auto": where the system tells of everything, "events": everywhere, "poll": nowhere.
    """

    def __init__(self, wanted: str, obstacles: Obstacles) -> None:
        self._wanted = wanted
        self._obstacles = obstacles
        self._watcher: DropWatcher | None = None
        self._tell: Tell | None = None
        self._open: set[str] = set()  #: Photographers whose folders are watched.
        self._folders: dict[str, int] = {}
        self._limited = False
        self._next_check = 0.0

    def open(self, tell: Tell) -> None:
        """Have events told as hints from now on."""
        self._tell = tell

    def close(self) -> None:
        """End watching."""
        if self._watcher is not None:
            self._watcher.stop()

    def ping(self) -> bool:
        """Return whether hints are still handed on, where events are asked for at all."""
        return self._watcher is None or self._watcher.ping()

    def see(self, photographer: str) -> bool:
        """Return whether events tell of all that happens in a photographer's drop folder."""
        return photographer in self._open and not self._limited

    def shut(self, photographer: str) -> None:
        """Watch a folder that is away no longer; it is watched again when it is looked at."""
        if self._watcher is not None and photographer in self._open:
            self._watcher.forget(photographer)
        self._open.discard(photographer)

    def look_at(self, photographer: str, drop: Path, *, remote: bool) -> None:
        """Watch a folder, if that is of use and it is not watched already."""
        if self._tell is None or self._wanted == "poll" or (remote and self._wanted == "auto"):
            return
        what = f"{photographer}: events"
        try:
            self._watch(photographer, drop, self._tell)
        except OSError as error:
            self._open.discard(photographer)
            # The scan comes more often then, and says so if the folder itself is away.
            if is_folder(drop):
                self._obstacles.meet(what, _trouble(drop, error))
        else:
            self._open.add(photographer)
            self._obstacles.pass_by(what)

    def _watch(self, photographer: str, drop: Path, tell: Tell) -> None:
        if self._watcher is None:
            self._watcher = DropWatcher(lambda name, path: tell(Hint(name, path)), lambda: tell(Lost()))
        if photographer not in self._open or not self._watcher.is_watching(photographer):
            self._watcher.watch(photographer, drop)

    def blinded(self, now: float, answers: Callable[[str], bool]) -> list[str]:
        """Return the photographers whose events have stopped; what happened meanwhile only a scan tells.

        A folder that does not answer is one of them, and is asked nothing else.
        """
        if self._watcher is None or now < self._next_check:
            return []
        self._next_check = now + CHECK_SECONDS
        silent = [name for name in self._open if not answers(name)]
        stopped = [name for name in self._open if name not in silent and not self._watcher.is_watching(name)]
        for name in stopped:
            self._open.discard(name)
            self._obstacles.meet(f"{name}: events", say(Passing.EVENTS_STOPPED))
        return silent + stopped

    def count(self, photographer: str, folders: int) -> None:
        """Note how many folders a drop folder holds; where the system watches fewer, events are not relied on."""
        self._folders[photographer] = folders
        if self._watcher is None or not self._open:
            return
        watched = watches_in_place()
        there = sum(self._folders.get(name, 0) for name in self._open)
        self._limited = watched is not None and watched < there
        if self._limited:
            self._obstacles.meet("events", say(Passing.WATCH_LIMIT, seen=f"{watched} of {there} folders"))
        else:
            self._obstacles.pass_by("events")


def _trouble(drop: Path, error: OSError) -> Said:
    if error.errno == errno.ENOSPC:
        return say(Passing.WATCH_LIMIT, seen=f"none of the folders in {drop}")
    if error.errno == errno.EMFILE:
        return say(Passing.INSTANCE_LIMIT, folder=drop)
    return say(Passing.NO_EVENTS, folder=drop, detail=error)
