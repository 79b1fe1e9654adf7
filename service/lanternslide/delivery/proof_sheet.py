"""One photographer's proof sheets: which days are not as they should be, writing them, pruning the old."""

from __future__ import annotations

import hashlib
import re
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from pathlib import Path

from lanternslide import __version__
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import Day, Ledger, OriginalRow, ShownRow
from lanternslide.records import shown_path
from lanternslide.records.shown import AFTER, BEFORE, MAP, SMALL
from lanternslide.report.sheet import (
    FRONT,
    HEAD_LETTERS,
    DayContent,
    DayLine,
    Entry,
    HeldItem,
    IndexContent,
    day_pages,
    further_pages,
    index_page,
    is_page_name,
    signature_in,
)
from lanternslide.storage import put_text
from lanternslide.words import Passing

__all__ = ["Now", "Sheet", "local_day"]

DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
PICTURE = re.compile(
    r"\.?[0-9a-f]{16}(?:" + "|".join(map(re.escape, (SMALL, BEFORE, AFTER, MAP))) + r")(?:\.[0-9a-f]{8})?(?:\.part)?"
)
QUARTER = timedelta(minutes=15)
"""Clocks are put forward and back, and differ, by whole quarters of an hour."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Now:
    """How things stand with a photographer's pictures."""

    held: Sequence[OriginalRow]
    waiting: int  #: Pictures that are still to be done.
    obstacles: Sequence[str]  #: What is in the way.


class Sheet:
    """Keeps the pages of one photographer true.

    Each day's front page says which state of things it shows: a service that starts anew leaves alone what is right.
    """

    def __init__(self, photographer: str, folder: Path, keep_days: int, destinations: tuple[str, ...] = ()) -> None:
        self.photographer = photographer
        self.folder = folder
        self.destinations = destinations  #: Those of which it says what is in the way.
        self._keep_days = keep_days
        self._shows: dict[date, str | None] = {}  # what each day's front page says that it shows
        self._written: dict[tuple[date, int], tuple[object, ...]] = {}  # what stands on each further page
        self._pruned: date | None = None

    def write(self, ledger: Ledger, today: date, now: Now, seconds: float) -> bool:
        """Bring the pages up to date, today's first; return whether all are, or the *seconds* were over before.

        Raises
        ------
        PassingFaultError
            If a page of somebody else's is in the way, or the folder does not take ours.
        OSError
            If the folder cannot be read.
        """
        until = time.monotonic() + seconds
        oldest = today - timedelta(days=self._keep_days - 1)
        days = {day.day: day for day in ledger.sheets.days_of(self.photographer, _start_of(oldest))}
        held = _by_day(now.held, oldest)
        wanted = {*days, *held, *self._standing(oldest)}
        done = True
        for day in sorted(wanted, reverse=True):
            signature = _signature(days.get(day), held.get(day, ()), now.waiting if day == today else 0)
            if self._shown_on(day) == signature:
                continue
            if day != today and time.monotonic() > until:
                done = False
                break
            self._write_day(ledger, day, held.get(day, ()), (now.waiting if day == today else 0, signature))
        self._write_index(days, held, now)
        if self._pruned != today:
            self._prune(oldest)
            self._pruned = today
        return done

    def _standing(self, oldest: date) -> set[date]:
        """Return the days of which a page of ours stands; what they show may be over."""
        if not self._shows and self.folder.is_dir():
            for folder in self.folder.iterdir():
                if DAY.fullmatch(folder.name) and (day := _as_day(folder.name)) is not None:
                    self._shown_on(day)
        return {day for day, shows in self._shows.items() if shows is not None and day >= oldest}

    def _shown_on(self, day: date) -> str | None:
        """Return what a day's front page says that it shows; None if there is none of ours."""
        if day not in self._shows:
            self._shows[day] = _signature_on(self.folder / day.isoformat() / FRONT)
        return self._shows[day]

    def _write_index(self, days: dict[date, Day], held: dict[date, tuple[HeldItem, ...]], now: Now) -> None:
        if not (days or now.held or self.folder.is_dir()):
            return
        lines = [
            DayLine(
                day=day,
                deliveries=days[day].deliveries if day in days else 0,
                withdrawn=days[day].withdrawn if day in days else 0,
                held=len(held.get(day, ())),
            )
            for day in sorted({*days, *held}, reverse=True)
        ]
        content = IndexContent(
            photographer=self.photographer,
            days=lines,
            held=[_held_item(row) for row in now.held],
            waiting=now.waiting,
            obstacles=now.obstacles,
        )
        self._put(self.folder / FRONT, index_page(content))

    def _put(self, page: Path, text: str) -> None:
        """Write a page, unless one of somebody else's is in its place."""
        if page.exists() and _signature_on(page) is None:
            raise PassingFaultError(Passing.SHEET_IN_THE_WAY, folder=page.parent)
        put_text(page, text)

    def _write_day(self, ledger: Ledger, day: date, held: tuple[HeldItem, ...], state: tuple[int, str]) -> None:
        waiting, signature = state
        rows = ledger.sheets.shown_between(self.photographer, _start_of(day), _start_of(day + timedelta(days=1)))
        content = DayContent(
            photographer=self.photographer,
            day=day,
            entries=[_entry(row) for row in rows],
            held=held,
            waiting=waiting,
        )
        self.folder.mkdir(exist_ok=True)
        folder = self.folder / day.isoformat()
        for name, text in day_pages(content, self._stale_pages(day, rows), signature):
            self._put(folder / name, text)
        self._shows[day] = signature

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
        """Delete the sheets of days before *oldest*: pages and pictures of ours, and the folders that leaves empty.

        A folder that only is called like a day is left alone.
        """
        if not self.folder.is_dir():
            return
        for folder in self.folder.iterdir():
            day = _as_day(folder.name) if DAY.fullmatch(folder.name) else None
            if day is None or day >= oldest or folder.is_symlink() or _signature_on(folder / FRONT) is None:
                continue
            self._shows.pop(day, None)
            _prune_day(folder)


def _prune_day(folder: Path) -> None:
    pages = [path for path in folder.iterdir() if is_page_name(path.name) and not path.is_dir()]
    for path in folder.iterdir():
        if PICTURE.fullmatch(path.name) is not None and not path.is_dir():
            path.unlink()
    # The front page goes last: it tells whose folder this is.
    for path in sorted(pages, key=lambda path: path.name == FRONT):
        if path.name.startswith(".") or _signature_on(path) is not None:
            path.unlink()
    if not any(folder.iterdir()):
        folder.rmdir()


def _signature_on(page: Path) -> str | None:
    try:
        with page.open(encoding="utf-8", errors="replace") as stream:
            return signature_in(stream.read(HEAD_LETTERS))
    except FileNotFoundError:
        return None


def _signature(day: Day | None, held: tuple[HeldItem, ...], waiting: int) -> str:
    """Return what is another one whenever a day's pages are to be others."""
    return hashlib.sha256(repr((__version__, day, held, waiting)).encode()).hexdigest()[:16]


def _by_day(held: Sequence[OriginalRow], oldest: date) -> dict[date, tuple[HeldItem, ...]]:
    """Return what is held by the day since when it is, as far as that is known and its sheet is kept."""
    found: dict[date, tuple[HeldItem, ...]] = {}
    for row in held:
        if row.held_at is not None and (day := local_day(datetime.fromisoformat(row.held_at))) >= oldest:
            found[day] = (*found.get(day, ()), _held_item(row))
    return found


def _entry(row: ShownRow) -> Entry:
    at = datetime.fromisoformat(row.record.delivered_at or "").astimezone()
    return Entry(record=row.record, shown=row.shown, about=row.about, time=f"{at:%H:%M}")


def _held_item(row: OriginalRow) -> HeldItem:
    since = None if row.held_at is None else f"{datetime.fromisoformat(row.held_at).astimezone():%d %B %H:%M}"
    return HeldItem(name=shown_path(row.path), reason=row.reason or "", since=since)


def _as_day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def local_day(at: datetime) -> date:
    """Return on which day a time lies by this machine's clock."""
    return at.astimezone().date()


@lru_cache(maxsize=512)
def _start_of(day: date) -> str:
    """Return when a day begins by this machine's clock, as the ledger writes times.

    Where clocks are put forward at midnight there is no 0:00; the day begins later then.
    """
    at = datetime(day.year, day.month, day.day, tzinfo=UTC) - timedelta(hours=15)
    while local_day(at) < day:
        at += QUARTER
    return at.isoformat(timespec="seconds")
