"""Keeping each photographer's proof sheets true: a folder of pages and small pictures for each day, and an index."""

from __future__ import annotations

import re
import time
import traceback
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from lanternslide.config import Settings
from lanternslide.daemon.obstacles import Obstacles
from lanternslide.daemon.probe import Probe
from lanternslide.delivery import put_text
from lanternslide.delivery.faults import folder_fault
from lanternslide.errors import PassingFaultError, StateError
from lanternslide.ledger import Day, Ledger, OriginalRow, OriginalState, ShownRow
from lanternslide.records import shown_path
from lanternslide.records.events import Listener, SheetFailed
from lanternslide.records.shown import AFTER, BEFORE, MAP, SMALL
from lanternslide.report.sheet import (
    FRONT,
    DayContent,
    DayLine,
    Entry,
    HeldItem,
    IndexContent,
    day_pages,
    further_pages,
    index_page,
    is_page_name,
)
from lanternslide.words import Passing

__all__ = ["ProofSheets"]

PAUSE_SECONDS = 5.0
"""Sheets are written at most so often, and never for more than a fiftieth of the time."""

SHARE = 50

DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
PICTURE = re.compile(r"\.?[0-9a-f]{16}(?:" + "|".join(map(re.escape, (SMALL, BEFORE, AFTER, MAP))) + r")(?:\.part)?")


class ProofSheets:
    """Writes the sheets of photographers who want them; each one's shows nothing of another's.

    Days are those of this machine's clock.
    """

    def __init__(self, settings: Settings, ledger: Ledger, obstacles: Obstacles, probe: Probe, tell: Listener) -> None:
        self._ledger = ledger
        self._tell = tell
        self._obstacles = obstacles
        self._sheets = {
            name: _Sheet(name, owner.proofs, settings.service.proofs_keep_days)
            for name, owner in settings.photographers.items()
            if isinstance(owner.proofs, Path)
        }
        self._destinations = {name: settings.destinations_of(name) for name in self._sheets}
        self._probe = probe
        self._next_write = 0.0
        self.is_due = True  #: Whether something may have changed.

    def folder_for(self, photographer: str) -> Path | None:
        """Return the folder that today's small pictures of *photographer* go to, if there is one that takes them."""
        sheet = self._sheets.get(photographer)
        if sheet is None:
            return None
        folder = sheet.folder / _local_day(datetime.now(UTC)).isoformat()
        if not self._probe.answers(sheet.folder):
            return None
        try:
            sheet.folder.mkdir(exist_ok=True)
            folder.mkdir(exist_ok=True)
        except OSError as error:
            self._obstacles.meet(f"{photographer}: proof sheets", folder_fault(sheet.folder, error).said)
            return None
        return folder

    def look_again(self) -> None:
        """Let the days that are past be looked at too: something of them may have been taken back."""
        self.is_due = True
        for sheet in self._sheets.values():
            sheet.knows_days = False

    def write_if_due(self, now: float) -> None:
        """Bring the sheets up to date, if something may have changed and it was not done a moment ago."""
        if self.is_due and now >= self._next_write:
            started = time.monotonic()
            self.write()
            spent = time.monotonic() - started
            self._next_write = now + max(PAUSE_SECONDS, SHARE * spent)

    def write(self) -> None:
        """Bring the sheets up to date, and prune those that are old."""
        self.is_due = False
        if not self._sheets:
            return
        held = self._ledger.held()
        counts = self._ledger.counts()
        today = _local_day(datetime.now(UTC))
        for name, sheet in self._sheets.items():
            what = f"{name}: proof sheets"
            mine = [row for row in held if row.photographer == name]
            waiting = sum(counts.get((name, state), 0) for state in (OriginalState.WAITING, OriginalState.WORKING))
            try:
                self._check(sheet.folder)
                sheet.write(self._ledger, today, mine, waiting, self._obstacles.of(name, self._destinations[name]))
            except PassingFaultError as fault:
                self._obstacles.meet(what, fault.said)
                self.is_due = True
            except OSError as error:
                self._obstacles.meet(what, folder_fault(sheet.folder, error).said)
                self.is_due = True
            except StateError:
                raise
            except Exception as error:  # noqa: BLE001 - evidence must not stop deliveries; it is logged with its trace
                self._tell(SheetFailed(photographer=name, detail=str(error), trace=traceback.format_exc()))
            else:
                self._obstacles.pass_by(what)

    def _check(self, folder: Path) -> None:
        if not self._probe.answers(folder):
            raise PassingFaultError(Passing.FOLDER_TROUBLE, folder=folder, detail="no answer")


class _Sheet:
    """One photographer's."""

    def __init__(self, photographer: str, folder: Path, keep_days: int) -> None:
        self.photographer = photographer
        self.folder = folder
        self.knows_days = False  #: Whether the days that are past are as they were written.
        self._keep_days = keep_days
        self._days: dict[date, Day] = {}
        self._held: dict[date, tuple[HeldItem, ...]] = {}
        self._written: dict[tuple[date, int], tuple[object, ...]] = {}  # what stands on each page
        self._pruned: date | None = None

    def write(
        self, ledger: Ledger, today: date, held: Sequence[OriginalRow], waiting: int, obstacles: Sequence[str]
    ) -> None:
        oldest = today - timedelta(days=self._keep_days - 1)
        changed = self._changed(ledger, today, oldest, held)
        for day in sorted(changed):
            self._write_day(ledger, day, waiting if day == today else 0)
        if self._days or held or self.folder.is_dir():
            content = IndexContent(
                photographer=self.photographer,
                days=[self._line(day) for day in sorted({*self._days, *self._held}, reverse=True)],
                held=[_held_item(row) for row in held],
                waiting=waiting,
                obstacles=obstacles,
            )
            put_text(self.folder / FRONT, index_page(content))
        if self._pruned != today:
            self._prune(oldest)
            self._pruned = today

    def _changed(self, ledger: Ledger, today: date, oldest: date, held: Sequence[OriginalRow]) -> set[date]:
        """Return the days whose pages may have changed, and learn what is on them."""
        start = today if self.knows_days else oldest
        found = {day.day: day for day in ledger.days_of(self.photographer, _start_of(start))}
        before = {day: self._days.get(day) for day in {*found, *self._days} if day >= start}
        changed = {day for day, known in before.items() if found.get(day) != known}
        for day in before:
            self._days.pop(day, None)
        self._days |= found
        by_day: dict[date, list[HeldItem]] = {}
        for row in held:
            by_day.setdefault(_day_of(row.held_at, oldest), []).append(_held_item(row))
        holds = {day: tuple(items) for day, items in by_day.items()}
        changed |= {day for day in {*holds, *self._held} if holds.get(day) != self._held.get(day)}
        self._held = holds
        self.knows_days = True
        if today in self._days or today in self._held:
            changed.add(today)  # what was made again looks the same by its number
        return {day for day in changed if day >= oldest}

    def _line(self, day: date) -> DayLine:
        known = self._days.get(day)
        return DayLine(
            day=day,
            deliveries=known.deliveries if known else 0,
            withdrawn=known.withdrawn if known else 0,
            held=len(self._held.get(day, ())),
        )

    def _write_day(self, ledger: Ledger, day: date, waiting: int) -> None:
        rows = ledger.shown_between(self.photographer, _start_of(day), _start_of(day + timedelta(days=1)))
        content = DayContent(
            photographer=self.photographer,
            day=day,
            entries=[_entry(row) for row in rows],
            held=self._held.get(day, ()),
            waiting=waiting,
        )
        folder = self.folder / day.isoformat()
        for name, text in day_pages(content, self._stale_pages(day, rows)):
            self.folder.mkdir(exist_ok=True)
            put_text(folder / name, text)

    def _stale_pages(self, day: date, rows: Sequence[ShownRow]) -> list[int]:
        """Return which further pages of a day are not as they were written by this service."""
        stale: list[int] = []
        blocks = further_pages(rows)
        for number, block in enumerate(blocks, 1):
            # A page names the one after it.
            standing = tuple((row.record.digest, row.record.state, row.record.output) for row in block)
            content = (number < len(blocks), *standing)
            if self._written.get((day, number)) != content:
                self._written[day, number] = content
                stale.append(number)
        return stale

    def _prune(self, oldest: date) -> None:
        """Delete the sheets of days before *oldest*: pages and pictures of ours, and the folders that leaves empty."""
        if not self.folder.is_dir():
            return
        for folder in self.folder.iterdir():
            if not DAY.fullmatch(folder.name) or folder.is_symlink() or not folder.is_dir():
                continue
            if folder.name >= oldest.isoformat():
                continue
            kept = False
            for path in folder.iterdir():
                is_ours = is_page_name(path.name) or PICTURE.fullmatch(path.name) is not None
                if is_ours and not path.is_dir():
                    path.unlink()
                else:
                    kept = True
            if not kept:
                folder.rmdir()


def _entry(row: ShownRow) -> Entry:
    at = datetime.fromisoformat(row.record.delivered_at or "").astimezone()
    return Entry(record=row.record, shown=row.shown, about=row.about, time=f"{at:%H:%M}")


def _held_item(row: OriginalRow) -> HeldItem:
    since = None if row.held_at is None else f"{datetime.fromisoformat(row.held_at).astimezone():%d %B %H:%M}"
    return HeldItem(name=shown_path(row.path), reason=row.reason or "", since=since)


def _day_of(time_of_it: str | None, otherwise: date) -> date:
    return otherwise if time_of_it is None else _local_day(datetime.fromisoformat(time_of_it))


def _local_day(at: datetime) -> date:
    return at.astimezone().date()


def _start_of(day: date) -> str:
    """Return when a day begins by this machine's clock, as the ledger writes times."""
    midnight = datetime(day.year, day.month, day.day).astimezone()
    return midnight.astimezone(UTC).isoformat(timespec="seconds")
