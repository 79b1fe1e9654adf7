"""Very many files that are found at once, with real folders and a real ledger."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.config import load_settings, resolve
from lanternslide.config.limits import Limits
from lanternslide.intake.decisions import Decisions
from lanternslide.intake.drop_scanner import MANY, DropScanner, ScanContext
from lanternslide.intake.original_files import OriginalFiles
from lanternslide.ledger import Ledger
from lanternslide.records.events import Event, Found, nobody
from lanternslide.report.obstacles import Obstacles
from lanternslide.storage.probe import Probe
from tests.support.service import PLAIN, Home, make_home

CONFIG = (
    PLAIN.replace('state = "state"', 'state = "state"\nwatch = "poll"') + '\n[photographers.juno]\ndrop = "drop/juno"\n'
)


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home of two photographers."""
    (tmp_path / "state").mkdir()
    return make_home(tmp_path, CONFIG)


@pytest.fixture
def told() -> list[Event]:
    """Return what the drop scanner has said."""
    return []


@pytest.fixture
def scanner(home: Home, told: list[Event]) -> Iterator[DropScanner]:
    """Return a drop scanner over both drop folders."""
    settings = load_settings(home.config)
    photographers = resolve(settings)
    with Ledger(home.root / "state") as ledger:
        ask = ScanContext(
            limits=Limits.of(settings.service),
            watch=settings.service.watch,
            decisions=Decisions(photographers, ledger.originals, ledger.deliveries, nobody),
            files=OriginalFiles(
                photographers=photographers,
                originals=ledger.originals,
                deliveries=ledger.deliveries,
                answers=lambda _folder: True,
            ),
            in_hand=lambda _file: False,
            in_scope=lambda _fingerprint: True,
            answers=lambda _folder: True,
            read=Probe().read,
            is_filed=lambda _photographer: False,
            tick=lambda: None,
        )
        yield DropScanner(photographers, ledger.originals, ask, Obstacles(nobody), told.append)


def drop(home: Home, photographer: str, number: int) -> None:
    """Drop so many originals."""
    for index in range(number):
        (home.drop(photographer) / f"{index:05d}.jpg").write_bytes(b"original")


def test_what_is_found_again_is_not_counted_twice(home: Home, scanner: DropScanner, told: list[Event]) -> None:
    """A scan before all were looked up finds them again; each is taken in once, and at hand once."""
    drop(home, "ida", MANY + 50)
    for _ in range(3):
        scanner.scan_now()
        scanner.scan_if_due(time.monotonic())
        assert len(scanner) == MANY + 50
    scanner.follow_leads(math.inf)
    assert len(scanner) == MANY + 50
    assert sum(isinstance(event, Found) for event in told) == MANY + 50


def test_photographers_take_turns_in_being_looked_up(home: Home, scanner: DropScanner, told: list[Event]) -> None:
    """Whoever drops some hundreds does not wait until another's thousands were looked up."""
    drop(home, "ida", 10 * MANY)
    drop(home, "juno", MANY + 1)
    scanner.scan_if_due(time.monotonic())
    while Counter(event.file.photographer for event in told if isinstance(event, Found))["juno"] <= MANY:
        scanner.follow_leads(time.monotonic() + 0.02)
    found = Counter(event.file.photographer for event in told if isinstance(event, Found))
    assert found["ida"] < 5 * MANY
