"""What is asked for one picture, or every few seconds, costs no more because the ledger knows more."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from lanternslide.ledger import Kept, Ledger, Published, Wanted
from lanternslide.records import DroppedFile, Fingerprint, Record

RECORD = Record(original="x.jpg", photographer="ida", state="delivered", version="0")
NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
TODAY = NOW.isoformat(timespec="seconds")


def steps_of(ledger: Ledger, call: Callable[[], Any]) -> int:
    """Return how many instructions of SQLite's machine a call takes."""
    count = 0

    def one_more() -> None:
        nonlocal count
        count += 1

    ledger._connection.set_progress_handler(one_more, 1)
    try:
        call()
    finally:
        ledger._connection.set_progress_handler(None, 1)
    return count


def deliver(ledger: Ledger, number: int, *, moved: bool = False, delivered_at: str = "") -> int:
    """Deliver one picture, and again elsewhere if it is *moved*; return its delivery's number."""
    file = DroppedFile(
        photographer="ida", drop=Path("/drop"), relative=Path(f"{number}.jpg"),
        fingerprint=Fingerprint(size=1, mtime_ns=5, inode=number),
    )  # fmt: skip
    row = ledger.originals.take_in(file, file.relative)
    (delivery,) = ledger.deliveries.want(row.id, "d", [Wanted(destination="club", density=1, recipe="{}")])
    for folder in ("/former", "/out") if moved else ("/out",):
        published = Published(path=Path(folder) / f"{number}.jpg", size=3, digest="j")
        ledger.deliveries.intend(delivery.id, published, made_from="d", kept=Kept(record=RECORD))
        ledger.deliveries.confirm(delivery.id, delivered_at or (NOW - timedelta(days=100, seconds=number)).isoformat())
    ledger.originals.finish(row.id)
    return delivery.id


def grown(folder: Path, number: int, *, moved: bool = False) -> Ledger:
    """Return a ledger that knows so many pictures that were delivered long ago."""
    folder.mkdir()
    ledger = Ledger(folder)
    for index in range(number):
        deliver(ledger, index, moved=moved)
    return ledger


FEW, MANY = 40, 400

ASKED: dict[str, Callable[[Ledger], Any]] = {
    "replaced": lambda ledger: ledger.deliveries.replaced(),
    "recalled but standing": lambda ledger: ledger.withdrawals.note_recalled(),
    "recalled earlier": lambda ledger: ledger.withdrawals.recalled_earlier(),
    "days of the sheet": lambda ledger: ledger.sheets.days_of("ida", TODAY),
    "today's sheet": lambda ledger: ledger.sheets.shown_between("ida", TODAY, "2027"),
    "held": lambda ledger: ledger.reading.held(),
    "of a size": lambda ledger: ledger.deliveries.of_size("ida", 3),
    "waiting where filed": lambda ledger: ledger.originals.waiting_where_filed("ida"),
    "open intents": lambda ledger: ledger.deliveries.open_intents(),
    "open withdrawals": lambda ledger: ledger.withdrawals.open(),
}


@pytest.mark.parametrize("question", ASKED)
def test_what_was_done_long_ago_is_not_looked_at(question: str, tmp_path: Path) -> None:
    """Ten times as many delivered pictures, and the question costs the same."""
    with grown(tmp_path / "few", FEW) as few, grown(tmp_path / "many", MANY) as many:
        costs = [steps_of(ledger, lambda ledger=ledger: ASKED[question](ledger)) for ledger in (few, many)]  # type: ignore[misc]

    assert costs[1] <= 1.2 * costs[0] + 10


@pytest.mark.parametrize("moved", [False, True], ids=["where they were", "in another folder"])
def test_one_more_picture_costs_the_same(tmp_path: Path, *, moved: bool) -> None:
    """However many were delivered before, and have left something behind where they stood."""
    with grown(tmp_path / "few", FEW, moved=moved) as few, grown(tmp_path / "many", MANY, moved=moved) as many:
        costs = []
        for ledger in (few, many):
            spent = steps_of(ledger, lambda ledger=ledger: deliver(ledger, 9999, moved=True))  # type: ignore[misc]
            (last,) = ledger._connection.execute("SELECT max(id) FROM delivery").fetchone()
            assert [str(found.left.path) for found in ledger.deliveries.replaced(last)] == ["/former/9999.jpg"]
            costs.append(spent + steps_of(ledger, lambda ledger=ledger, last=last: ledger.deliveries.replaced(last)))  # type: ignore[misc]

    assert costs[1] <= 1.2 * costs[0]


def test_all_that_stands_is_found_in_one_go(tmp_path: Path) -> None:
    """Ten times as many pictures cost about ten times as much, not a hundred times."""
    with grown(tmp_path / "few", FEW) as few, grown(tmp_path / "many", MANY) as many:
        costs = [steps_of(ledger, partial(ledger.older.with_deliveries, 0, MANY)) for ledger in (few, many)]

    assert costs[1] < 15 * costs[0]
