"""Older work in the ledger: what is asked for again, until it is made or something newer takes its place."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.ledger import Kept, Ledger, OriginalState, Published, Wanted
from lanternslide.records import DroppedFile, Fingerprint, Record
from lanternslide.words import Held, say

RECORD = Record(original="x.jpg", photographer="ida", state="delivered", version="0", seconds=3.0)


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """Open a new ledger."""
    with Ledger(tmp_path) as opened:
        yield opened


def file_of(name: str, mtime_ns: int = 5, photographer: str = "ida") -> DroppedFile:
    """Return a file that has settled."""
    fingerprint = Fingerprint(size=1, mtime_ns=mtime_ns, inode=7)
    return DroppedFile(photographer=photographer, drop=Path("/drop"), relative=Path(name), fingerprint=fingerprint)


def delivered(ledger: Ledger, file: DroppedFile, *destinations: str, record: Record = RECORD) -> int:
    """Note that a file is delivered; return its original's number."""
    row = ledger.originals.take_in(file, file.relative)
    wanted = [Wanted(destination=name, density=1, recipe="{}") for name in destinations]
    for delivery in ledger.deliveries.want(row.id, "d1", wanted):
        intent = Published(path=Path(f"/out/{delivery.id}.jpg"), size=3, digest="j")
        ledger.deliveries.intend(delivery.id, intent, made_from="d1", kept=Kept(record=record))
        ledger.deliveries.confirm(delivery.id, "2026-11-25T12:00:00+00:00")
    assert ledger.originals.finish(row.id) is OriginalState.DELIVERED
    return row.id


def ask_again(ledger: Ledger, *originals: int) -> None:
    """Ask for all deliveries of originals again."""
    ledger.older.ask_again((number, [row.id for row in ledger.deliveries.of_original(number)]) for number in originals)


def test_what_is_asked_for_again_is_older_until_it_is_made(tmp_path: Path) -> None:
    """Also after a restart, and when it is found again as it was; once it stands again, it is not."""
    file = file_of("seal.jpg")
    with Ledger(tmp_path) as before:
        number = delivered(before, file, "club")
        assert not before.originals.get(number).is_older
        ask_again(before, number)
    with Ledger(tmp_path) as ledger:
        assert ledger.originals.known_of("ida")[b"seal.jpg"].is_older
        assert ledger.originals.take_in(file, file.relative).is_older
        (delivery,) = ledger.deliveries.want(number, "d1", [Wanted(destination="club", density=1, recipe="{}")])
        ledger.originals.set_state(number, OriginalState.WORKING)
        ledger.originals.give_back_work()
        assert ledger.originals.get(number).is_older
        intent = Published(path=Path("/out/new.jpg"), size=3, digest="j")
        ledger.deliveries.intend(delivery.id, intent, made_from="d1", kept=Kept(record=RECORD))
        ledger.deliveries.confirm(delivery.id, "2026-11-25T12:00:00+00:00")
        assert ledger.originals.finish(number) is OriginalState.DELIVERED
        assert not ledger.originals.get(number).is_older


def test_a_new_export_is_fresh(ledger: Ledger) -> None:
    """Whether it comes before or after its picture is asked for again."""
    first, second = (delivered(ledger, file_of(name), "club") for name in ("a.jpg", "b.jpg"))
    assert not ledger.originals.take_in(file_of("a.jpg", mtime_ns=6), Path("a.jpg")).is_older
    ask_again(ledger, first, second)
    assert not ledger.originals.get(first).is_older
    assert not ledger.originals.take_in(file_of("b.jpg", mtime_ns=6), Path("b.jpg")).is_older


@pytest.mark.parametrize("end", ["held", "gone", "withdrawn", "replaced"])
def test_whatever_else_becomes_of_it_ends_older_work(ledger: Ledger, end: str) -> None:
    """Tried again after that, it is done as anything else is."""
    number = delivered(ledger, file_of("a.jpg"), "club")
    ask_again(ledger, number)
    match end:
        case "held":
            ledger.originals.hold(number, say(Held.EMPTY), "2026-11-26T09:00:00+00:00")
        case "gone":
            ledger.originals.set_state(number, OriginalState.GONE)
        case "withdrawn":
            ledger.withdrawals.withdraw(number, None, None)
        case _:
            ledger.originals.take_in(file_of("a.jpg"), Path("another"))
    assert not ledger.originals.get(number).is_older
    ledger.withdrawals.retry(number)
    assert not ledger.originals.get(number).is_older
    assert ledger.older.number("ida") == 0


def test_what_a_worker_has_is_asked_for_again_too(ledger: Ledger) -> None:
    """It is made again once that worker is done: what else stands of it may have been touched by the config."""
    number = delivered(ledger, file_of("a.jpg"), "club", "journal")
    club, journal = ledger.deliveries.of_original(number)
    ledger.older.ask_again([(number, [club.id])])
    ledger.originals.set_state(number, OriginalState.WORKING)
    assert [row.id for row in ledger.older.with_deliveries(-1, 9)] == [number]

    ledger.older.ask_again([(number, [journal.id])])

    assert ledger.originals.get(number).state is OriginalState.WORKING
    intent = Published(path=Path("/out/new.jpg"), size=3, digest="j")
    ledger.deliveries.intend(club.id, intent, made_from="d1", kept=Kept(record=RECORD))
    ledger.deliveries.confirm(club.id, "2026-11-25T12:00:00+00:00")
    assert ledger.originals.finish(number) is OriginalState.WAITING
    assert [row.id for row in ledger.older.waiting("ida", -1, 9)] == [number]


def test_what_its_owner_asks_back_by_name_is_fresh(ledger: Ledger) -> None:
    """It does not wait behind all that is made again, though it is older work for another destination."""
    number = delivered(ledger, file_of("a.jpg"), "club", "journal")
    ledger.withdrawals.withdraw(number, "journal", None)
    ledger.older.ask_again([(number, [ledger.deliveries.of_original(number)[0].id])])
    assert ledger.originals.get(number).is_older

    ledger.withdrawals.retry(number)

    assert not ledger.originals.get(number).is_older
    assert [row.state for row in ledger.deliveries.of_original(number)] == ["waiting", "waiting"]


def test_what_is_made_again_stands_meanwhile(ledger: Ledger) -> None:
    """Whoever reads what stands of a destination finds it all the time, until it is replaced or taken back."""
    record = RECORD.model_copy(update={"digest": "j"})
    number = delivered(ledger, file_of("a.jpg"), "club", record=record)
    (stands,) = ledger.deliveries.standing("club")
    ask_again(ledger, number)
    assert ledger.deliveries.standing("club") == [stands]
    assert ledger.originals.take_in(file_of("a.jpg", mtime_ns=6), Path("a.jpg")).id == number
    (delivery,) = ledger.deliveries.want(number, "d2", [Wanted(destination="club", density=1, recipe="{}")])
    assert ledger.deliveries.standing("club") == [stands]
    # Its record is that of what is about to replace it; that cannot be told of the other one.
    newer = Published(path=stands.output.path, size=4, digest="k")
    kept = Kept(record=record.model_copy(update={"digest": "k"}))
    ledger.deliveries.intend(delivery.id, newer, made_from="d2", kept=kept)
    assert ledger.deliveries.standing("club") == []
    ledger.deliveries.confirm(delivery.id, "2026-11-25T12:00:00+00:00")
    assert [row.output for row in ledger.deliveries.standing("club")] == [newer]
    ask_again(ledger, number)
    ledger.withdrawals.withdraw(number, None, None)
    assert ledger.deliveries.standing("club") == []


def test_older_work_is_read_in_parts_and_within_limits(ledger: Ledger) -> None:
    """Each once, in the order of their numbers; those of a time or later, and what a destination still needs."""
    numbers = [delivered(ledger, file_of(f"{index}.jpg", mtime_ns=index), "club", "journal") for index in range(10)]
    other = delivered(ledger, file_of("x.jpg", photographer="juno"), "club")
    ask_again(ledger, *numbers[:8], other)
    found, after = [], -1
    while rows := ledger.older.waiting("ida", after, 3):
        after = rows[-1].id
        found.append([row.id for row in rows])
    assert found == [numbers[:3], numbers[3:6], numbers[6:8]]
    assert ledger.older.number("ida") == 8

    since = ledger.older.waiting("ida", -1, 99, since_ns=5)
    assert [row.id for row in since] == numbers[5:8]
    assert ledger.older.number("ida", since_ns=5) == 3

    # One needs the journal alone: its other delivery was not asked for.
    ledger.older.ask_again([(numbers[9], [ledger.deliveries.of_original(numbers[9])[1].id])])
    assert numbers[9] not in [row.id for row in ledger.older.waiting("ida", -1, 99, only="club")]
    assert numbers[9] in [row.id for row in ledger.older.waiting("ida", -1, 99, only="journal")]
    assert ledger.older.number("ida", only="club") == 8


def test_what_is_left_takes_as_long_as_it_took(ledger: Ledger) -> None:
    """By the records of what is made again, and of that alone; what no record tells is taken to be like the others."""
    unknown = RECORD.model_copy(update={"seconds": None})
    numbers = [delivered(ledger, file_of(f"{index}.jpg"), "club", "journal") for index in range(3)]
    numbers.append(delivered(ledger, file_of("old.jpg"), "club", record=unknown))
    assert ledger.older.left(["ida"]) == (0, None)
    ask_again(ledger, *numbers[:2])
    assert ledger.older.left(["ida"]) == (2, 12.0)
    assert ledger.older.left(["juno"]) == (0, None)
    ask_again(ledger, numbers[3])
    assert ledger.older.left(["ida"]) == (3, 18.0)
