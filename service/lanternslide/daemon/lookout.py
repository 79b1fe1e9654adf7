"""Finding originals: events and scans feed the candidates, which are handed on when they have settled."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from lanternslide.config import Settings
from lanternslide.daemon.desk import DONE, Desk
from lanternslide.daemon.limits import Limits
from lanternslide.daemon.mail import Hint, Mailbox
from lanternslide.daemon.obstacles import Obstacles
from lanternslide.intake import DropWatcher, Settler, dropped, look_at, look_through
from lanternslide.ledger import Ledger, OriginalState, stored_fingerprint
from lanternslide.records import DroppedFile, Fingerprint, shown_path
from lanternslide.records.events import Found, Listener
from lanternslide.words import Passing, say

__all__ = ["Lookout", "Questions"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Questions:
    """What a lookout asks about files."""

    in_hand: Callable[[DroppedFile], bool]  #: Whether a file, as it looks now, is already being worked on or rests.
    in_scope: Callable[[Fingerprint], bool]  #: Whether a file that looks like this is to be done at all.
    is_filed: Callable[[str], bool]  #: Whether a photographer's finished originals are filed away.


class Lookout:
    """Looks through the drop folders and follows hints."""

    def __init__(
        self,
        settings: Settings,
        ledger: Ledger,
        desk: Desk,
        obstacles: Obstacles,
        tell: Listener,
        ask: Questions,
    ) -> None:
        self._settings = settings
        self._ledger = ledger
        self._desk = desk
        self._obstacles = obstacles
        self._tell = tell
        self._ask = ask
        self._finished: list[tuple[DroppedFile, int]] = []
        self._limits = Limits.of(settings.service)
        self._settler = Settler(self._limits.settle_seconds)
        self._watcher: DropWatcher | None = None
        self._unwatched = set(settings.photographers)
        self._closed: dict[str, set[Path]] = {name: set() for name in settings.photographers}
        self._next_scan = 0.0
        self.has_scanned = False

    def __len__(self) -> int:
        """How many files have not settled yet."""
        return len(self._settler)

    def watch(self, mailbox: Mailbox) -> None:
        """Have events leave hints in *mailbox*, where the config wants events."""
        if self._settings.service.watch != "poll":
            self._watcher = DropWatcher(lambda photographer, path: mailbox.put(Hint(photographer, path)))

    def close(self) -> None:
        """End watching."""
        if self._watcher is not None:
            self._watcher.stop()

    def scan_now(self) -> None:
        """Have the drop folders looked through at the next occasion."""
        self._next_scan = 0.0

    def finished(self) -> list[tuple[DroppedFile, int]]:
        """Return finished originals that still lie in a drop folder and are to be filed away, with their numbers."""
        found, self._finished = self._finished, []
        return found

    def scan_if_due(self, now: float) -> bool:
        """Look through every drop folder, if it is time; return whether it was."""
        if now < self._next_scan:
            return False
        for name in self._settings.photographers:
            self._scan(name, now)
        events = self._watcher is not None and not self._unwatched
        self._next_scan = now + self._limits.scan_pause(events=events)
        self.has_scanned = True
        return True

    def _scan(self, photographer: str, now: float) -> None:
        drop = self._settings.photographers[photographer].drop
        what = f"{photographer}: drop folder"
        # Watched before it is looked through, so that nothing falls between the two.
        self._watch_again(photographer)
        closed: dict[Path, OSError] = {}

        def note(folder: Path, error: OSError) -> None:
            closed[folder] = error

        try:
            found = list(look_through(drop, closed=note))
        except OSError:
            self._unwatched.add(photographer)
            self._obstacles.meet(what, say(Passing.DROP_FOLDER_AWAY, folder=drop))
            return
        self._obstacles.pass_by(what)
        self._tell_closed(photographer, closed)
        known = self._ledger.known_of(photographer)
        for entry in found:
            row = known.pop(os.fsencode(entry.relative), None)
            # Most are as they were: no more than a comparison for those.
            fingerprint = stored_fingerprint(Fingerprint.of(entry.status))
            if row is not None and row.state in DONE and row.fingerprint == fingerprint:
                if row.state is OriginalState.DELIVERED and self._ask.is_filed(photographer):
                    self._finished.append((dropped(photographer, drop, entry), row.id))
                continue
            file = dropped(photographer, drop, entry)
            if self._desk.is_news(file, row):
                self.see(file, now)
        for row in known.values():
            self._desk.note_gone(row)

    def _tell_closed(self, photographer: str, closed: Mapping[Path, OSError]) -> None:
        """Say which folders cannot be looked through, and which can be again."""
        for folder, error in closed.items():
            shown = shown_path(folder)
            said = say(Passing.FOLDER_TROUBLE, folder=shown, detail=error.strerror or str(error))
            self._obstacles.meet(f"{photographer}: {shown}", said)
        for folder in self._closed[photographer] - closed.keys():
            self._obstacles.pass_by(f"{photographer}: {shown_path(folder)}")
        self._closed[photographer] = set(closed)

    def _watch_again(self, photographer: str) -> None:
        if self._watcher is None or photographer not in self._unwatched:
            return
        drop = self._settings.photographers[photographer].drop
        try:
            self._watcher.watch(photographer, drop)
        except OSError as error:
            # The scan comes more often then, and says so if the folder itself is away.
            if drop.is_dir():
                detail = error.strerror or str(error)
                self._obstacles.meet(f"{photographer}: events", say(Passing.NO_EVENTS, folder=drop, detail=detail))
        else:
            self._unwatched.discard(photographer)
            self._obstacles.pass_by(f"{photographer}: events")

    def follow(self, hint: Hint, now: float) -> None:
        """Look at the path of a hint, and note what is no longer there."""
        owner = self._settings.photographers.get(hint.photographer)
        if owner is None:  # the config was read again
            return
        drop = owner.drop
        found = list(look_at(hint.photographer, drop, hint.path))
        for file in found:
            rows = self._ledger.originals_at(hint.photographer, file.relative)
            if self._desk.is_news(file, rows[0].known if rows else None):
                self.see(file, now)
        if not found and drop.is_dir():
            for row in self._ledger.originals_at(hint.photographer, hint.path):
                self._desk.note_gone(row.known)

    def is_unchanged(self, file: DroppedFile) -> bool:
        """Return whether a file still looks as it did."""
        return list(look_at(file.photographer, file.drop, file.relative)) == [file]

    def see(self, file: DroppedFile, now: float) -> None:
        """Note a file that needs something; it is handed on when it has settled."""
        if not self._ask.in_scope(file.fingerprint) or self._ask.in_hand(file):
            return
        if self._settler.see(file, now):
            self._tell(Found(file=file))

    def settled(self, now: float) -> list[DroppedFile]:
        """Return the files that have settled."""
        return list(self._settler.review(now))

    def next_due(self) -> float:
        """Return when there is something to look at again."""
        settling = self._settler.next_due()
        return self._next_scan if settling is None else min(settling, self._next_scan)
