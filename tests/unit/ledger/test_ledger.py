"""The ledger on a real SQLite file."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.errors import StateUnwritableError
from lanternslide.ledger import DeliveryRow, Kept, Ledger, OriginalRow, OriginalState, Published, Wanted
from lanternslide.records import DroppedFile, Fingerprint, Record
from lanternslide.words import Held, say

RECORD = Record(original="x.jpg", photographer="ida", state="delivered", version="0")
CLUB = Wanted(destination="club", density=1, recipe="{}")
JOURNAL = [Wanted(destination="journal", density=density, recipe="{}") for density in (1, 2)]


def file_of(name: str = "grey-seal.jpg", size: int = 1) -> DroppedFile:
    """Return a file that has settled."""
    fingerprint = Fingerprint(size=size, mtime_ns=5, inode=2**64 - 1)
    return DroppedFile(photographer="ida", drop=Path("/drop"), relative=Path(name), fingerprint=fingerprint)


def take_in(ledger: Ledger, name: str = "grey-seal.jpg", size: int = 1) -> OriginalRow:
    """Note a settled file that is its own picture."""
    return ledger.take_in(file_of(name, size), Path(name))


def publish(ledger: Ledger, row: DeliveryRow, digest: str = "d1", name: str = "out.jpg") -> None:
    """Note that a delivery stands."""
    ledger.intend(
        row.id,
        Published(path=Path("/out") / f"{row.id}-{name}", size=3, digest="j"),
        made_from=digest,
        kept=Kept(record=RECORD),
    )
    ledger.confirm(row.id, "2026-11-25T12:00:00+00:00")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a state folder."""
    return tmp_path


@pytest.fixture
def ledger(folder: Path) -> Iterator[Ledger]:
    """Open a new ledger."""
    with Ledger(folder) as opened:
        yield opened


def test_a_life(ledger: Ledger) -> None:
    """An original waits, is worked on, and is delivered when all that it asks for stands."""
    row = take_in(ledger)
    assert (row.state, row.attempts, row.digest) == (OriginalState.WAITING, 0, None)

    wanted = ledger.want(row.id, "d1", [CLUB, *JOURNAL])
    assert [(item.destination, item.density) for item in wanted] == [("club", 1), ("journal", 1), ("journal", 2)]
    publish(ledger, wanted[0])
    assert ledger.finish(row.id) is OriginalState.WAITING
    publish(ledger, wanted[1])
    ledger.leave_out(wanted[2].id, "d1")
    assert ledger.finish(row.id) is OriginalState.DELIVERED

    assert [item.state for item in ledger.deliveries_of(row.id)] == ["delivered", "delivered", "left out"]
    assert [json.loads(line)["delivered_at"] for line in ledger.record_lines()] == ["2026-11-25T12:00:00+00:00"] * 2


def test_the_same_bytes_want_nothing(ledger: Ledger) -> None:
    """What was made from the same bytes is not made again; changed bytes want everything anew."""
    row = take_in(ledger)
    (delivery,) = ledger.want(row.id, "d1", [CLUB])
    publish(ledger, delivery)

    assert ledger.want(row.id, "d1", [CLUB]) == []
    (again,) = ledger.want(row.id, "d2", [CLUB])
    assert again.output == Published(path=Path(f"/out/{delivery.id}-out.jpg"), size=3, digest="j")


def test_other_tags_keep_what_stands(ledger: Ledger) -> None:
    """A delivery that is no longer asked for stays and is marked; it is no unfinished work."""
    row = take_in(ledger)
    (club,) = ledger.want(row.id, "d1", [CLUB])
    publish(ledger, club)

    ledger.want(row.id, "d1", JOURNAL[:1])

    assert [(item.destination, item.wanted, item.state) for item in ledger.deliveries_of(row.id)] == [
        ("club", False, "delivered"),
        ("journal", True, "waiting"),
    ]


def test_everything_survives_a_restart(folder: Path) -> None:
    """What was noted is there after closing and opening, with the ledger's own name."""
    with Ledger(folder) as before:
        row = take_in(before, os.fsdecode(b"caf\xe9.jpg"))
        (delivery,) = before.want(row.id, "d1", [CLUB])
        publish(before, delivery, name=os.fsdecode(b"caf\xe9.jpg"))
        name = before.name

    with Ledger(folder) as after:
        assert after.name == name
        ((path, known),) = after.known_of("ida").items()
        assert path == b"caf\xe9.jpg"
        row = after.original(known.id)
        assert row.known == known
        assert row.fingerprint == file_of().fingerprint
        (found,) = after.deliveries_of(row.id)
        assert found.output is not None
        assert after.owner_of(found.output.path) == found


def test_what_was_worked_on_waits_after_a_restart(ledger: Ledger) -> None:
    """Work that was interrupted is given back; open intents are found."""
    row = take_in(ledger)
    (delivery,) = ledger.want(row.id, "d1", [CLUB])
    ledger.set_state(row.id, OriginalState.WORKING)
    intent = Published(path=Path("/out/x.jpg"), size=3, digest="j")
    ledger.intend(delivery.id, intent, made_from="d1", kept=Kept(record=RECORD))

    ledger.give_back_work()

    assert ledger.known_of("ida")[b"grey-seal.jpg"].state is OriginalState.WAITING
    assert [row.intent for row in ledger.open_intents()] == [intent]
    ledger.take_back_intent(delivery.id)
    assert ledger.open_intents() == []
    assert [row.state for row in ledger.want(row.id, "d1", [CLUB])] == ["waiting"]


def test_attempts_belong_to_one_state_of_a_file(ledger: Ledger) -> None:
    """Attempts add up while the file stays as it is, and begin anew when it changes or after it was held."""
    row = take_in(ledger)
    assert [ledger.count_attempt(row.id), ledger.count_attempt(row.id)] == [1, 2]
    assert take_in(ledger).attempts == 2
    assert take_in(ledger, size=2).attempts == 0
    ledger.count_attempt(row.id)
    ledger.hold(row.id, say(Held.EMPTY), "2026-11-26T09:00:00+00:00")
    assert take_in(ledger, size=2).attempts == 0


def test_held_and_counts(ledger: Ledger) -> None:
    """What is held is listed with its reason, and states are counted by photographer."""
    held, _ = take_in(ledger, "a.jpg"), take_in(ledger, "b.jpg")
    ledger.hold(held.id, say(Held.EMPTY), "2026-11-26T09:00:00+00:00")

    assert [(row.path, row.reason_key) for row in ledger.held()] == [(Path("a.jpg"), "empty")]
    assert ledger.counts() == {("ida", OriginalState.HELD): 1, ("ida", OriginalState.WAITING): 1}


def test_two_deliveries_never_share_a_file(ledger: Ledger) -> None:
    """A published file belongs to one delivery."""
    row = take_in(ledger)
    club, journal = ledger.want(row.id, "d1", [CLUB, JOURNAL[0]])
    for item in (club, journal):
        ledger.intend(
            item.id, Published(path=Path("/out/x.jpg"), size=3, digest="j"), made_from="d1", kept=Kept(record=RECORD)
        )
    ledger.confirm(club.id, "now")

    with pytest.raises(StateUnwritableError):
        ledger.confirm(journal.id, "now")


def test_a_ledger_can_be_read_beside_its_service(folder: Path, ledger: Ledger) -> None:
    """Reading changes nothing and sees what was committed; where there is no ledger there is none to read."""
    take_in(ledger)
    reader = Ledger.to_read(folder)
    assert reader is not None
    with reader:
        assert reader.counts() == {("ida", OriginalState.WAITING): 1}
        assert reader.faults() == []
        with pytest.raises(StateUnwritableError, match="read-only"):
            take_in(reader, "another.jpg")
    assert Ledger.to_read(folder / "none") is None


def test_names_that_a_file_system_takes_for_one_have_one_owner(ledger: Ledger) -> None:
    """Case and Unicode's normal forms make no difference to who a name belongs to; other letters do."""
    row = take_in(ledger)
    (delivery,) = ledger.want(row.id, "d1", [CLUB])
    path = Path("/out/R\u00f6st \u00c9.jpg")
    ledger.intend(delivery.id, Published(path=path, size=3, digest="j"), made_from="d1", kept=Kept(record=RECORD))
    ledger.confirm(delivery.id, "now")

    for name in ("R\u00f6st \u00c9.jpg", "Ro\u0308st E\u0301.jpg", "r\u00f6st \u00e9.JPG"):
        owner = ledger.owner_of(path.with_name(name))
        assert owner is not None
        assert owner.id == delivery.id
    assert ledger.owner_of(path.with_name("Rost E.jpg")) is None
    assert ledger.owner_of(Path("/elsewhere") / path.name) is None


def test_who_loses_a_name_is_gone_only_when_nothing_else_stands(ledger: Ledger) -> None:
    """An original that stands elsewhere too stays known there; with its last name it is gone."""
    first = take_in(ledger, "x.tif")
    lost = ledger.want(first.id, "d1", JOURNAL)
    for row in lost:
        publish(ledger, row)
    ledger.finish(first.id)
    heir = take_in(ledger, "x.jpg")
    states = []
    for row, before in zip(ledger.want(heir.id, "d2", JOURNAL), lost, strict=True):
        name = Published(path=Path("/out") / f"{before.id}-out.jpg", size=4, digest="k")
        ledger.intend(row.id, name, made_from="d2", kept=Kept(record=RECORD), inherits=True)
        ledger.confirm(row.id, "2026-11-25T12:00:00+00:00")
        states.append(
            (ledger.original(first.id).state, [found.id for found in ledger.originals_with_deliveries(-1, 9)])
        )
    assert states == [
        (OriginalState.DELIVERED, [first.id, heir.id]), (OriginalState.GONE, [heir.id]),
    ]  # fmt: skip


def test_what_is_taken_back_stays_so_until_its_original_changes(ledger: Ledger) -> None:
    """The same bytes do not bring it back; other bytes do, and so does a retry."""
    row = take_in(ledger)
    club, journal = ledger.want(row.id, "d1", [CLUB, JOURNAL[0]])
    for item in (club, journal):
        publish(ledger, item)
    assert ledger.finish(row.id) is OriginalState.DELIVERED
    ledger.withdraw(row.id, "club", row.fingerprint)
    assert [item.id for item in ledger.open_withdrawals()] == [club.id]
    ledger.withdrawn(club.id)
    assert ledger.open_withdrawals() == []
    assert ledger.original(row.id).state is OriginalState.DELIVERED
    assert ledger.want(row.id, "d1", [CLUB, JOURNAL[0]]) == []
    assert [item.destination for item in ledger.want(row.id, "d2", [CLUB])] == ["club"]
    ledger.withdraw(row.id, None, row.fingerprint)
    assert ledger.original(row.id).state is OriginalState.WITHDRAWN
    ledger.retry(row.id)
    assert ledger.original(row.id).state is OriginalState.WAITING
    assert len(ledger.want(row.id, "d1", [CLUB, JOURNAL[0]])) == 2


def test_what_is_noted_is_remembered(ledger: Ledger) -> None:
    """One value for each name, and all names that begin alike."""
    assert ledger.noted("max_megapixels") is None
    for value in ("100", "200"):
        ledger.note("max_megapixels", value)
        assert ledger.noted("max_megapixels") == value
    ledger.note("drop/ida", "2f")
    assert ledger.noted_below("drop/") == [("ida", "2f")]


def test_a_delivery_that_never_stood_leaves_nothing_behind(ledger: Ledger) -> None:
    """It stands after one statement; afterwards it moves as any other."""
    row = take_in(ledger)
    (delivery,) = ledger.want(row.id, "d1", [CLUB])
    first = Published(path=Path("/out/a.jpg"), size=3, digest="j")
    ledger.intend(delivery.id, first, made_from="d1", kept=Kept(record=RECORD))

    ledger.confirm_first(delivery.id, "2026-11-25T12:00:00+00:00")

    (stands,) = ledger.deliveries_of(row.id)
    assert (stands.state, stands.output, stands.intent) == ("delivered", first, None)
    assert ledger.earlier_at(first.path) is None
    ledger.want(row.id, "d2", [CLUB])
    publish(ledger, delivery, "d2", "b.jpg")
    assert ledger.earlier_at(first.path) == (delivery.id, first)


def test_a_finished_original_lies_where_it_was_delivered_from(ledger: Ledger) -> None:
    """What was filed away of a former export does not count any more; while something is left, it does."""
    row = take_in(ledger)
    (delivery,) = ledger.want(row.id, "d1", [CLUB])
    ledger.file_away(row.id, Path("/filed/former.jpg"))

    assert ledger.finish(row.id, file_of()) is OriginalState.WAITING
    assert ledger.original(row.id).filed_to == Path("/filed/former.jpg")
    publish(ledger, delivery)
    assert ledger.finish(row.id, file_of()) is OriginalState.DELIVERED
    assert ledger.original(row.id).filed_to is None
    ledger.finish(row.id, replace(file_of(), filed=Path("/filed/now.jpg")))
    assert ledger.original(row.id).filed_to == Path("/filed/now.jpg")
    ledger.finish(row.id)
    assert ledger.original(row.id).filed_to == Path("/filed/now.jpg")
