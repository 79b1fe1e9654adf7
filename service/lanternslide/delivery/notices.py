"""Marks for people and programs that look from outside: HELD.txt in proof folders, stamps for sync jobs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path
from typing import NoReturn

from lanternslide.config import ResolvedPhotographer
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import Reading
from lanternslide.records import shown_path
from lanternslide.records.windows import private_mode
from lanternslide.report import held_text, is_held_text
from lanternslide.report.obstacles import Obstacles
from lanternslide.storage import is_file, put_text
from lanternslide.storage.faults import folder_fault
from lanternslide.storage.probe import Probe
from lanternslide.words import Passing, say, told

__all__ = ["HeldNotes", "Stamps"]

HELD_FILE = "HELD.txt"
PAUSE_SECONDS = 5.0
"""The notes are written at most so often."""


class HeldNotes:
    """Keeps HELD.txt in each photographer's proof folder true: it exists only while something is held."""

    def __init__(
        self, photographers: Mapping[str, ResolvedPhotographer], reading: Reading, obstacles: Obstacles, probe: Probe
    ) -> None:
        self._folders = {name: owner.proofs for name, owner in photographers.items() if owner.proofs is not None}
        self._reading = reading
        self._obstacles = obstacles
        self._probe = probe
        self._written: dict[str, str | None] = {}
        self._next_write = 0.0
        self.is_due = True  #: Whether something may have changed.

    def write_if_due(self, now: float) -> None:
        """Bring every HELD.txt up to date, if something may have changed and it was not done a moment ago."""
        if self.is_due and now >= self._next_write:
            self._next_write = now + PAUSE_SECONDS
            self.write()

    def write(self) -> None:
        """Bring every HELD.txt up to date."""
        self.is_due = False
        if not self._folders:
            return
        held = self._reading.held()
        for name, folder in self._folders.items():
            text = held_text([(shown_path(row.path), row.reason or "") for row in held if row.photographer == name])
            what = f"{name}: proofs"
            note = folder / HELD_FILE
            if not self._probe.answers(folder):
                self._obstacles.meet(what, say(Passing.FOLDER_TROUBLE, folder=folder, detail="no answer"))
                self.is_due = True
                continue
            if name in self._written and self._written[name] == text and (text is None or is_file(note)):
                self._obstacles.pass_by(what)
                continue
            try:
                if _is_ours(note):
                    put_text(note, text)
                elif text is not None:
                    _refuse(note)
            except PassingFaultError as fault:
                self._obstacles.meet(what, fault.said)
                self.is_due = True
            else:
                self._written[name] = text
                self._obstacles.pass_by(what)


def _is_ours(note: Path) -> bool:
    """Return whether there is no such file, or one that the service has written."""
    try:
        return is_held_text(note.read_text("utf-8", "replace"))
    except FileNotFoundError:
        return True
    except OSError as error:
        raise folder_fault(note.parent, error) from error


def _refuse(note: Path) -> NoReturn:
    raise PassingFaultError(Passing.NOTE_IN_THE_WAY, folder=note.parent)


class Stamps:
    """Touches a file for each destination when its queue has become empty after deliveries."""

    def __init__(self, folder: Path, obstacles: Obstacles) -> None:
        self._folder = folder
        self._obstacles = obstacles
        self._queue: Counter[str] = Counter()
        self._delivered: set[str] = set()
        self._older: set[str] = set()  # what older work was delivered to, which is stamped once at its end

    def begin(self, destinations: Iterable[str]) -> None:
        """Note that an original is on its way to *destinations*."""
        self._queue.update(destinations)

    def catch_up(self, newest: Mapping[str, str]) -> None:
        """Note what was delivered (*newest*: when last, RFC 3339) without a touch, because the service was killed."""
        for name, when in newest.items():
            try:
                touched = (self._folder / name).stat().st_mtime
            except OSError:
                touched = 0.0
            # Times of deliveries are kept in whole seconds.
            if datetime.fromisoformat(when).timestamp() > touched:
                self._delivered.add(name)
        self.end(())

    def deliver(self, destination: str, *, is_older: bool = False) -> None:
        """Note that something was delivered."""
        (self._older if is_older else self._delivered).add(destination)

    def end_older(self) -> None:
        """Note that no older work is left."""
        if self._older:
            self._delivered |= self._older
            self._older.clear()
            self.end(())

    def end(self, destinations: Iterable[str]) -> None:
        """Note that an original is not on its way any more, and touch what that leaves empty."""
        self._queue.subtract(destinations)
        for name in [name for name in self._delivered if self._queue[name] <= 0]:
            self._touch(name)

    def _touch(self, name: str) -> None:
        what = f"stamp of {name}"
        try:
            self._folder.mkdir(mode=private_mode(), exist_ok=True)
            (self._folder / name).touch()
        except OSError as error:
            detail = told(error)
            self._obstacles.meet(what, say(Passing.FOLDER_TROUBLE, folder=self._folder, detail=detail))
        else:
            self._delivered.discard(name)
            self._obstacles.pass_by(what)
