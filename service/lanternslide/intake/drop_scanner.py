"""Finding originals: events and scans feed the candidates, which are handed on when they have settled."""

from __future__ import annotations

import os
import time
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeAlias

from lanternslide.config import ResolvedPhotographer
from lanternslide.config.limits import Limits
from lanternslide.errors import PassingFaultError
from lanternslide.intake.decisions import DONE, Decisions
from lanternslide.intake.event_monitor import EventMonitor
from lanternslide.intake.hints import Hint, Tell
from lanternslide.intake.original_files import OriginalFiles
from lanternslide.intake.scan import Entry, Round, dropped, look_at, look_through
from lanternslide.intake.settler import Settler
from lanternslide.ledger import Known, Originals, OriginalState, stored
from lanternslide.records import DroppedFile, Fingerprint, shown_path
from lanternslide.records.events import Found, Listener
from lanternslide.report.obstacles import Obstacles
from lanternslide.storage import is_folder
from lanternslide.storage.mounts import is_remote
from lanternslide.storage.probe import SilentError
from lanternslide.words import Passing, Said, say

__all__ = ["DropScanner", "ScanContext"]

MANY = 200
"""So many files are looked up in the ledger at once."""


Read: TypeAlias = Callable[[Path, Iterator[Entry], Callable[[], int], Callable[[], None]], Iterator[Entry]]
"""As `Probe.read`."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ScanContext:
    """What a drop scanner asks about files and folders."""

    limits: Limits
    watch: str  #: Where events are asked for: "auto", "events" or "poll".
    decisions: Decisions
    files: OriginalFiles
    in_hand: Callable[[DroppedFile], bool]  #: Whether a file, as it looks now, is already being worked on or rests.
    in_scope: Callable[[Fingerprint], bool]  #: Whether a file that looks like this is to be done at all.
    answers: Callable[[Path], bool]  #: Whether a folder answers, or its share hangs.
    read: Read  #: Reads a folder, and gives up where its share hangs.
    is_filed: Callable[[str], bool]  #: Whether a photographer's finished originals are filed away.
    tick: Callable[[], None]  #: Is called for each file that is looked at: very many take their time, which is no hang.


@dataclass(slots=True)
class _Place:
    """A drop folder and what is known of it."""

    drop: Path
    next_scan: float = 0.0
    remote: bool = False  #: Whether it lies on a share, as far as is known.
    closed: set[Path] = field(default_factory=set)  #: Folders in it that could not be listed.


class DropScanner:
    """Looks through the drop folders and follows hints."""

    def __init__(
        self,
        photographers: Mapping[str, ResolvedPhotographer],
        originals: Originals,
        ask: ScanContext,
        obstacles: Obstacles,
        tell: Listener,
    ) -> None:
        self._originals = originals
        self._decisions = ask.decisions
        self._files = ask.files
        self._obstacles = obstacles
        self._tell = tell
        self._ask = ask
        self._limits = ask.limits
        self._places = {name: _Place(owner.drop) for name, owner in photographers.items()}
        self._settler = Settler(lambda name: self._limits.settle_seconds(remote=self._places[name].remote))
        self._monitor = EventMonitor(ask.watch, obstacles)
        self._finished: list[tuple[DroppedFile, int]] = []
        self._filed: OrderedDict[DroppedFile, None] = OrderedDict()  # filed away, and to be made again from there
        # Of many that were found at once: each photographer's that were not looked up yet, once each.
        self._leads: dict[str, OrderedDict[Path, DroppedFile]] = {}
        self.has_scanned = False

    def __len__(self) -> int:
        """How many files have not settled yet, or were not handed on."""
        return len(self._settler) + len(self._filed) + sum(map(len, self._leads.values()))

    def watch(self, tell: Tell) -> None:
        """Have events told as hints, where the config wants events."""
        self._monitor.open(tell)

    def ping(self) -> bool:
        """Return whether the events that are asked for are still handed on."""
        return self._monitor.ping()

    def close(self) -> None:
        """End watching."""
        self._monitor.close()

    # Scans

    def scan_now(self) -> None:
        """Have the drop folders looked through at the next occasion."""
        self.has_scanned = False
        for place in self._places.values():
            place.next_scan = 0.0

    def finished(self) -> list[tuple[DroppedFile, int]]:
        """Return finished originals that still lie in a drop folder and are to be filed away, with their numbers."""
        found, self._finished = self._finished, []
        return found

    def scan_if_due(self, now: float) -> bool:
        """Look through each drop folder for which it is time; return whether there was one."""
        for name in self._monitor.blinded(now, lambda photographer: self._ask.answers(self._places[photographer].drop)):
            self._places[name].next_scan = 0.0
        due = [name for name, place in self._places.items() if place.next_scan <= now]
        for name in due:
            now = time.monotonic()
            self._scan(name, now)
            ended = time.monotonic()
            # A folder that takes long to look through is not looked through all the time.
            pause = max(self._limits.scan_pause(events=self._monitor.see(name)), ended - now)
            self._places[name].next_scan = ended + pause
        self.has_scanned = True
        return bool(due)

    def _scan(self, photographer: str, now: float) -> None:
        place = self._places[photographer]
        what = f"{photographer}: drop folder"
        if not self._ask.answers(place.drop):
            self._monitor.shut(photographer)
            self._obstacles.meet(what, say(Passing.DROP_FOLDER_SILENT, folder=place.drop))
            return
        place.remote = is_remote(place.drop)
        # Watched before it is looked through, so that nothing falls between the two.
        self._monitor.look_at(photographer, place.drop, remote=place.remote)
        came_across = Round()
        try:
            entries = look_through(place.drop, came_across=came_across)
            found = list(self._ask.read(place.drop, entries, lambda: came_across.seen, self._ask.tick))
        except SilentError:
            came_across.is_given_up = True
            self._monitor.shut(photographer)
            self._obstacles.meet(what, say(Passing.DROP_FOLDER_SILENT, folder=place.drop))
            return
        except OSError as error:
            self._monitor.shut(photographer)
            self._obstacles.meet(what, _away(place.drop, error))
            return
        self._obstacles.pass_by(what)
        self._tell_closed(photographer, came_across.closed)
        self._monitor.count(photographer, came_across.folders)
        self._compare(photographer, found, came_across, now)

    def _compare(self, photographer: str, found: list[Entry], came_across: Round, now: float) -> None:
        """See what is news, and note what is no longer there."""
        drop = self._places[photographer].drop
        known = self._originals.known_of(photographer)
        unknown = []
        delivered, is_filed = OriginalState.DELIVERED, self._ask.is_filed(photographer)
        for entry in found:
            row = known.pop(os.fsencode(entry.relative), None)
            # Most are as they were: no more than a comparison for those. Older work is the backlog's to hand on.
            fingerprint = stored(entry.size, entry.mtime_ns, entry.inode)
            if row is not None and (row.state in DONE or row.is_older) and row.fingerprint == fingerprint:
                if is_filed and row.state is delivered:
                    self._finished.append((dropped(photographer, drop, entry), row.id))
                continue
            file = dropped(photographer, drop, entry)
            if row is None:
                unknown.append(file)
            elif self._decisions.is_news(file, row):
                self.see(file, now)
        self._lead_to(unknown, now)
        closed = [os.fsencode(folder) + os.fsencode(os.sep) for folder in came_across.closed]
        for path, row in known.items():
            # What lies in a folder that cannot be listed may well be there.
            if not path.startswith(tuple(closed)):
                self._note_gone(row)
        for original in self._originals.waiting_where_filed(photographer):
            filed = self._files.filed(original)
            if filed is not None:
                self.see(filed, now)

    def _tell_closed(self, photographer: str, closed: Mapping[Path, OSError]) -> None:
        """Say which folders cannot be looked through, and which can be again."""
        for folder, error in closed.items():
            shown = shown_path(folder)
            said = say(Passing.FOLDER_TROUBLE, folder=shown, detail=error)
            self._obstacles.meet(f"{photographer}: {shown}", said)
        place = self._places[photographer]
        for folder in place.closed - closed.keys():
            self._obstacles.pass_by(f"{photographer}: {shown_path(folder)}")
        place.closed = set(closed)

    # Single files

    def _lead_to(self, files: list[DroppedFile], now: float) -> None:
        """See which files are news: at once, or where they are many, by and by."""
        if len(files) > MANY:
            leads = self._leads.setdefault(files[0].photographer, OrderedDict())
            leads.update((file.relative, file) for file in files)
            return
        for file in files:
            if self._is_news(file):
                self.see(file, now)

    def follow_leads(self, until: float) -> None:
        """See which of many files are news, *until* some time (monotonic seconds); photographers take turns."""
        while self._leads and (now := time.monotonic()) < until:
            photographer = next(iter(self._leads))
            leads = self._leads.pop(photographer)
            _, file = leads.popitem(last=False)
            if leads:  # back behind the others
                self._leads[photographer] = leads
            if self._is_news(file):
                self.see(file, now)

    def follow(self, hint: Hint, now: float) -> None:
        """Look at the path of a hint, and note what is no longer there."""
        place = self._places.get(hint.photographer)
        if place is None or not self._answers(hint.photographer):  # the config was read again; or a scan will find it
            return
        try:
            found = list(look_at(hint.photographer, place.drop, hint.path))
        except OSError:  # the drop folder itself has gone; a scan says so
            place.next_scan = 0.0
            return
        self._lead_to(found, now)
        is_closed = any(hint.path.is_relative_to(folder) for folder in place.closed)
        if not found and not is_closed and is_folder(place.drop):
            for row in self._originals.at(hint.photographer, hint.path):
                self._note_gone(row.known)

    def _note_gone(self, known: Known) -> None:
        gone = self._files.note_gone(known)
        if gone is not None:
            self._obstacles.pass_by(gone.shown)  # whatever it was, it is in nobody's way now

    def look_again(self, file: DroppedFile, now: float) -> None:
        """Look at what lies where an original lay: in its drop folder, or where it is filed away.

        What cannot be told now a scan finds.
        """
        if file.filed is None:
            self.follow(Hint(file.photographer, file.relative), now)
            return
        with suppress(PassingFaultError):
            if file.photographer in self._places and self._files.is_unchanged(file):
                self.see(file, now)

    def see(self, file: DroppedFile, now: float) -> None:
        """Note a file that needs something; it is handed on when it has settled."""
        if not self._ask.in_scope(file.fingerprint) or self._ask.in_hand(file):
            return
        if file.filed is not None:  # that one has settled long ago
            is_new = file not in self._filed
            self._filed[file] = None
        else:
            is_new = self._settler.see(file, now)
        if is_new:
            self._tell(Found(file=file))

    def settled(self, now: float) -> Iterator[DroppedFile]:
        """Yield the files that have settled; those that are not asked for are yielded the next time."""
        while self._filed:
            file, _ = self._filed.popitem(last=False)
            yield file
        yield from self._settler.review(now, self._answers)

    def _answers(self, photographer: str) -> bool:
        """Return whether a drop folder answers; if not, it is looked through as soon as it does."""
        self._ask.tick()
        place = self._places[photographer]
        if self._ask.answers(place.drop):
            return True
        place.next_scan = 0.0
        return False

    def _is_news(self, file: DroppedFile) -> bool:
        """Return whether a file still needs anything."""
        rows = self._originals.at(file.photographer, file.relative)
        return self._decisions.is_news(file, rows[0].known if rows else None)

    def give_up(self, before: float) -> None:
        """Leave the files that a program has been writing since *before* some time; the next sweep takes them up."""
        for file in self._settler.give_up(before):
            self._obstacles.meet(file.shown, say(Passing.STILL_WRITTEN))

    def next_due(self) -> float:
        """Return when there is something to look at again."""
        if self._filed or self._leads:
            return 0.0
        settling = self._settler.next_due()
        due = [place.next_scan for place in self._places.values()]
        return min(due if settling is None else [settling, *due])


def _away(drop: Path, error: OSError) -> Said:
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return say(Passing.DROP_FOLDER_AWAY, folder=drop)
    return say(Passing.FOLDER_TROUBLE, folder=drop, detail=error)
