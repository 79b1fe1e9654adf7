"""What the ledger knows of deliveries."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.errors import StateUnwritableError
from lanternslide.ledger import Kept, Ledger, OriginalState, Published
from tests.support.ledgers import CLUB, JOURNAL, RECORD, publish, take_in


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a state folder."""
    return tmp_path


@pytest.fixture
def ledger(folder: Path) -> Iterator[Ledger]:
    """Open a new ledger."""
    with Ledger(folder) as opened:
        yield opened


def test_the_same_bytes_want_nothing(ledger: Ledger) -> None:
    """What was made from the same bytes is not made again; changed bytes want everything anew."""
    row = take_in(ledger)
    (delivery,) = ledger.deliveries.want(row.id, "d1", [CLUB])
    publish(ledger, delivery)

    assert ledger.deliveries.want(row.id, "d1", [CLUB]) == []
    (again,) = ledger.deliveries.want(row.id, "d2", [CLUB])
    assert again.output == Published(path=Path(f"/out/{delivery.id}-out.jpg"), size=3, digest="j")


def test_other_tags_keep_what_stands(ledger: Ledger) -> None:
    """A delivery that is no longer asked for stays and is marked; it is no unfinished work."""
    row = take_in(ledger)
    (club,) = ledger.deliveries.want(row.id, "d1", [CLUB])
    publish(ledger, club)

    ledger.deliveries.want(row.id, "d1", JOURNAL[:1])

    assert [(item.destination, item.wanted, item.state) for item in ledger.deliveries.of_original(row.id)] == [
        ("club", False, "delivered"),
        ("journal", True, "waiting"),
    ]


def test_two_deliveries_never_share_a_file(ledger: Ledger) -> None:
    """A published file belongs to one delivery."""
    row = take_in(ledger)
    club, journal = ledger.deliveries.want(row.id, "d1", [CLUB, JOURNAL[0]])
    for item in (club, journal):
        ledger.deliveries.intend(
            item.id, Published(path=Path("/out/x.jpg"), size=3, digest="j"), made_from="d1", kept=Kept(record=RECORD)
        )
    ledger.deliveries.confirm(club.id, "now")

    with pytest.raises(StateUnwritableError):
        ledger.deliveries.confirm(journal.id, "now")


def test_names_that_a_file_system_takes_for_one_have_one_owner(ledger: Ledger) -> None:
    """Case and Unicode's normal forms make no difference to who a name belongs to; other letters do."""
    row = take_in(ledger)
    (delivery,) = ledger.deliveries.want(row.id, "d1", [CLUB])
    path = Path("/out/R\u00f6st \u00c9.jpg")
    ledger.deliveries.intend(
        delivery.id, Published(path=path, size=3, digest="j"), made_from="d1", kept=Kept(record=RECORD)
    )
    ledger.deliveries.confirm(delivery.id, "now")

    for name in ("R\u00f6st \u00c9.jpg", "Ro\u0308st E\u0301.jpg", "r\u00f6st \u00e9.JPG"):
        owner = ledger.deliveries.owner_of(path.with_name(name))
        assert owner is not None
        assert owner.id == delivery.id
    assert ledger.deliveries.owner_of(path.with_name("Rost E.jpg")) is None
    assert ledger.deliveries.owner_of(Path("/elsewhere") / path.name) is None


def test_who_loses_a_name_is_gone_only_when_nothing_else_stands(ledger: Ledger) -> None:
    """An original that stands elsewhere too stays known there; with its last name it is gone."""
    first = take_in(ledger, "x.tif")
    lost = ledger.deliveries.want(first.id, "d1", JOURNAL)
    for row in lost:
        publish(ledger, row)
    ledger.originals.finish(first.id)
    heir = take_in(ledger, "x.jpg")
    states = []
    for row, before in zip(ledger.deliveries.want(heir.id, "d2", JOURNAL), lost, strict=True):
        name = Published(path=Path("/out") / f"{before.id}-out.jpg", size=4, digest="k")
        ledger.deliveries.intend(row.id, name, made_from="d2", kept=Kept(record=RECORD), inherits=True)
        ledger.deliveries.confirm(row.id, "2026-11-25T12:00:00+00:00")
        states.append(
            (ledger.originals.get(first.id).state, [found.id for found in ledger.older.with_deliveries(-1, 9)])
        )
    assert states == [
        (OriginalState.DELIVERED, [first.id, heir.id]), (OriginalState.GONE, [heir.id]),
    ]  # fmt: skip


def test_a_delivery_that_never_stood_leaves_nothing_behind(ledger: Ledger) -> None:
    """It stands after one statement; afterwards it moves as any other."""
    row = take_in(ledger)
    (delivery,) = ledger.deliveries.want(row.id, "d1", [CLUB])
    first = Published(path=Path("/out/a.jpg"), size=3, digest="j")
    ledger.deliveries.intend(delivery.id, first, made_from="d1", kept=Kept(record=RECORD))

    ledger.deliveries.confirm_first(delivery.id, "2026-11-25T12:00:00+00:00")

    (stands,) = ledger.deliveries.of_original(row.id)
    assert (stands.state, stands.output, stands.intent) == ("delivered", first, None)
    assert ledger.deliveries.earlier_at(first.path) is None
    ledger.deliveries.want(row.id, "d2", [CLUB])
    publish(ledger, delivery, "d2", "b.jpg")
    assert ledger.deliveries.earlier_at(first.path) == (delivery.id, first)
