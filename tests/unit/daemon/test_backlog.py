"""Older work on its way out of the ledger, with real files and a real ledger."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from lanternslide.config import load_settings, resolve
from lanternslide.config.limits import Limits
from lanternslide.daemon.backlog import AT_ONCE, FEW, Backlog
from lanternslide.intake import look_at
from lanternslide.intake.decisions import Decisions
from lanternslide.intake.drop_scanner import ScanContext
from lanternslide.intake.original_files import OriginalFiles
from lanternslide.ledger import Kept, Ledger, Published, Wanted
from lanternslide.records import DroppedFile, Record, Scope
from lanternslide.records.events import Behind, Event, nobody
from tests.support.service import PLAIN, Home, make_home

CONFIG = PLAIN.replace(
    "[destinations.portfolio]", '[photographers.juno]\ndrop = "drop/juno"\n\n[destinations.portfolio]'
)
RECORD = Record(original="x.jpg", photographer="ida", state="delivered", version="0")
MANY = 3 * AT_ONCE


@dataclass
class Ground:
    """Photographers whose pictures are all to be made again."""

    home: Home
    ledger: Ledger
    silent: set[Path] = field(default_factory=set)  #: Drop folders that do not answer.
    hand: set[DroppedFile] = field(default_factory=set)
    told: list[Event] = field(default_factory=list)

    def backlog(self) -> Backlog:
        """Return a backlog, as each reading of the config makes one."""
        settings = load_settings(self.home.config)
        photographers = resolve(settings)
        ask = ScanContext(
            limits=Limits.of(settings.service),
            watch=settings.service.watch,
            decisions=Decisions(photographers, self.ledger.originals, self.ledger.deliveries, nobody),
            files=OriginalFiles(
                photographers=photographers,
                originals=self.ledger.originals,
                deliveries=self.ledger.deliveries,
                answers=lambda _folder: True,
            ),
            in_hand=self.hand.__contains__,
            in_scope=lambda _fingerprint: True,
            answers=lambda folder: folder not in self.silent,
            read=lambda _folder, items, _seen, _tick: items,
            is_filed=lambda _photographer: False,
            tick=lambda: None,
        )
        return Backlog(photographers, self.ledger.older, Scope(), ask, self.told.append)

    def behind(self) -> list[int]:
        """Return how many were said to be left, one after the other."""
        return [event.number for event in self.told if isinstance(event, Behind)]


def names_of(files: Iterator[DroppedFile]) -> Counter[str]:
    """Return how many files each photographer has among *files*."""
    return Counter(file.photographer for file in files)


def is_cut_short(backlog: Backlog) -> bool:
    """Return whether only a scan tells when to go on."""
    return backlog.is_cut_short


@pytest.fixture
def ground(tmp_path: Path) -> Iterator[Ground]:
    """Have Ida's and Juno's pictures delivered and asked for again."""
    home = make_home(tmp_path, CONFIG)
    (tmp_path / "state").mkdir()
    with Ledger(tmp_path / "state") as ledger:
        for name in ("ida", "juno"):
            for index in range(MANY):
                ask_again(ledger, home, name, f"{index:03d}.jpg")
        yield Ground(home, ledger)


def ask_again(ledger: Ledger, home: Home, photographer: str, name: str) -> None:
    """Write an original, and note that it is delivered and to be made again."""
    (home.drop(photographer) / name).write_bytes(b"original")
    (file,) = look_at(photographer, home.drop(photographer), Path(name))
    row = ledger.originals.take_in(file, file.relative)
    (delivery,) = ledger.deliveries.want(row.id, "d", [Wanted(destination="club", density=1, recipe="{}")])
    intent = Published(path=home.out("club", photographer, name), size=3, digest="j")
    ledger.deliveries.intend(delivery.id, intent, made_from="d", kept=Kept(record=RECORD))
    ledger.deliveries.confirm(delivery.id, "2026-11-25T12:00:00+00:00")
    ledger.originals.finish(row.id)
    ledger.older.ask_again([(row.id, [delivery.id])])


def test_each_is_handed_on_once_and_a_few_at_a_time(ground: Ground) -> None:
    """Whoever has enough of them ready waits; what is in hand is passed over, and what is left is said."""
    backlog = ground.backlog()
    backlog.begin()
    first = list(backlog.next(Counter(juno=FEW)))
    assert names_of(iter(first)) == {"ida": AT_ONCE}
    ground.hand.update(first)
    backlog.begin()
    handed = list(first)
    while backlog:
        handed += backlog.next(Counter())

    assert len(handed) == len(set(handed)) == 2 * MANY
    assert ground.behind()[:2] == [2 * MANY, 2 * MANY - AT_ONCE]
    assert (ground.behind()[-1], len(backlog)) == (0, 0)


@pytest.mark.parametrize("how", ["silent", "away"])
def test_a_drop_folder_that_goes_in_the_middle_loses_nothing(ground: Ground, how: str) -> None:
    """Nothing is passed over as if it were gone: it begins again when a scan finds the folder there."""
    backlog = ground.backlog()
    backlog.begin()
    handed = list(backlog.next(Counter()))
    ground.hand.update(handed)
    drop, elsewhere = ground.home.drop(), ground.home.root / "elsewhere"
    if how == "silent":
        ground.silent.add(drop)
    else:
        drop.rename(elsewhere)

    assert names_of(backlog.next(Counter())) == {"juno": AT_ONCE}
    assert is_cut_short(backlog)
    assert backlog, "Juno's go on"
    assert ground.behind()[-1] == len(backlog) == MANY - 2 * AT_ONCE
    # The scan that this asks for finds it still gone: no more scans, until the next one is due.
    backlog.begin()
    assert names_of(backlog.next(Counter())) == {}
    assert not is_cut_short(backlog)
    assert backlog.has_passed_over, "the first of Juno's are in hand: the next ones come at once"
    assert names_of(backlog.next(Counter())) == {"juno": AT_ONCE}
    assert not is_cut_short(backlog)

    ground.silent.clear()
    if how == "away":
        elsewhere.rename(drop)
    backlog.begin()
    while backlog:
        handed += [file for file in backlog.next(Counter()) if file.photographer == "ida"]
    assert names_of(file for file in handed if file.photographer == "ida") == {"ida": MANY}
    assert not is_cut_short(backlog)


def test_another_reading_of_the_config_says_anew_what_is_left(ground: Ground) -> None:
    """Also where nothing is: whoever shows progress still counts with what was left before."""
    ground.backlog().begin()
    assert ground.behind() == [2 * MANY]
    ground.silent.update((ground.home.drop(), ground.home.drop("juno")))
    ground.backlog().begin()
    assert ground.behind() == [2 * MANY, 0]
