"""What a death or an absent folder has left open, on real deliveries in real folders."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.errors import PassingFaultError
from lanternslide.ledger import DeliveryState
from lanternslide.records.events import Delivered, Withdrawn
from lanternslide.requests.request_folder import Request
from lanternslide.words import Passing
from tests.support.household import CONFIG, Household, household


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


def test_an_intent_that_was_fulfilled_is_told_as_delivered(home: Household) -> None:
    """After a restart it is as if nothing had happened."""
    file = home.drop("seal.jpg")
    item = home.item(file)
    (row,), _ = home.planner.still_to_make(item)
    path, data = home.intend(item, row)
    path.write_bytes(data)

    assert home.recovery.recover() == {}

    assert [event.record.output for event in home.told if isinstance(event, Delivered)] == [str(path)]
    assert home.states(file) == {("portfolio", 1): "delivered"}


def test_an_original_that_was_called_otherwise_leaves_nothing_behind(home: Household) -> None:
    """What stands under a former name of the same destination is deleted and told."""
    file = home.drop("seal@club.jpg")
    (former,) = home.deliver(file)
    home.read(CONFIG.replace('folder = "out/club"', 'folder = "out/club"\nname = "{photographer}-{stem}.jpg"'))
    home.owner.perform(Request(command="sweep", again=True))
    (path,) = home.deliver(file)
    assert (path.name, former.exists()) == ("ida-seal.jpg", True)

    assert home.recovery.recover() == {}

    assert not former.exists()
    assert path.exists()
    assert home.told_of(Withdrawn) == [Withdrawn(original="ida: seal@club.jpg", destination="club", output=str(former))]


def test_an_intent_that_was_not_fulfilled_is_made_anew(home: Household) -> None:
    """A rename that never happened is no delivery, and is told as nothing."""
    file = home.drop("seal.jpg")
    item = home.item(file)
    (row,), _ = home.planner.still_to_make(item)
    path, _ = home.intend(item, row)

    assert home.recovery.recover() == {}

    assert home.told_of(Delivered) == []
    assert home.states(file) == {("portfolio", 1): "waiting"}
    assert not path.exists()


def test_where_a_folder_is_away_an_intent_stays_open(home: Household) -> None:
    """Whoever settles one delivery hears why it cannot be done; of all, the destinations are told."""
    file = home.drop("seal.jpg")
    item = home.item(file)
    (row,), _ = home.planner.still_to_make(item)
    path, data = home.intend(item, row)
    path.write_bytes(data)
    aside = path.parent.with_name("aside")
    path.parent.rename(aside)
    (delivery,) = home.ledger.deliveries.open_intents()

    with pytest.raises(PassingFaultError) as raised:
        home.recovery.settle(delivery)
    assert raised.value.said.key == Passing.DESTINATION_AWAY.value
    assert home.recovery.recover() == {"portfolio": raised.value.said}
    assert home.states(file) == {("portfolio", 1): "publishing"}

    aside.rename(path.parent)
    assert home.recovery.recover() == {}
    assert home.states(file) == {("portfolio", 1): "delivered"}


def test_a_withdrawal_that_waited_says_so_and_then_what_became_of_it(home: Household) -> None:
    """It is told once, when the file is deleted."""
    file = home.drop("seal@club.jpg")
    (path,) = home.deliver(file)
    (original,) = home.ledger.originals.at("ida", file.relative)
    aside = path.parent.with_name("aside")
    path.parent.rename(aside)
    home.ledger.withdrawals.withdraw(original.id, None, None)
    (delivery,) = home.ledger.deliveries.of_original(original.id)
    assert delivery.state is DeliveryState.WITHDRAWN

    said, waits = home.recovery.take_back(original, delivery)
    assert waits
    assert str(path) in said
    assert home.told_of(Withdrawn) == []

    aside.rename(path.parent)
    assert home.recovery.take_back(original, delivery)[1] is False
    assert not path.exists()
    assert len(home.told_of(Withdrawn)) == 1
