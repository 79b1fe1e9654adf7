"""What is still to be made of an original, with real files, a real ledger and a real config."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.ledger import OriginalState
from lanternslide.records.events import Delivered
from lanternslide.words import Passing
from tests.support.household import CONFIG, Household, household


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


def test_each_density_of_each_destination_is_made_once(home: Household) -> None:
    """All is to be made at first, and the original is at work; nothing is once it stands from these bytes."""
    file = home.drop("seal@journal@club.jpg")
    item = home.item(file)

    rows, stalled = home.planner.still_to_make(item)

    assert [(row.destination, row.density) for row in rows] == [("journal", 1), ("journal", 2), ("club", 1)]
    assert stalled is None
    assert home.row(file).state is OriginalState.WORKING
    home.publish(item, rows[0])
    left, _ = home.planner.still_to_make(item)
    assert [row.id for row in left] == [rows[1].id, rows[2].id], "a restart makes only what is missing"


def test_nothing_to_make_leaves_the_original_as_it_is(home: Household) -> None:
    """It is not at work when nothing of it is."""
    file = home.drop("seal.jpg")
    home.deliver(file)
    item = home.item(file)

    assert home.planner.still_to_make(item) == ([], None)
    assert home.row(file).state is OriginalState.WAITING


def test_other_bytes_are_made_everywhere_again(home: Household) -> None:
    """A picture that is exported again under the same name replaces its earlier delivery."""
    home.deliver(home.drop("seal@journal.jpg"))

    rows, _ = home.planner.still_to_make(home.item(home.drop("seal@journal.jpg", b"brighter")))

    assert [row.density for row in rows] == [1, 2]


def test_a_changed_destination_makes_nothing_again_unasked(home: Household) -> None:
    """What was made from these bytes stays, until its owner asks."""
    file = home.drop("seal.jpg")
    home.deliver(file)
    home.read(CONFIG.replace("long_edge = 1050", "long_edge = 1200"))

    assert home.planner.still_to_make(home.item(file)) == ([], None)


@pytest.mark.parametrize("is_renamed", [True, False])
def test_an_intent_is_settled_before_anything_is_made(home: Household, *, is_renamed: bool) -> None:
    """A file that matches it is ours and told of; if there is none, the rename has not happened and it is made."""
    item = home.item(home.drop("seal.jpg"))
    (row,), _ = home.planner.still_to_make(item)
    path, data = home.intend(item, row)
    if is_renamed:
        path.write_bytes(data)

    rows, stalled = home.planner.still_to_make(item)

    assert ([found.id for found in rows], stalled) == ([] if is_renamed else [row.id], None)
    told = [event.record for event in home.told if isinstance(event, Delivered)]
    assert [record.output for record in told] == ([str(path)] if is_renamed else [])


def test_what_cannot_be_told_of_one_delivery_stalls_that_one_alone(home: Household) -> None:
    """Its intent stays open, the reason comes along, and the other places are not kept waiting."""
    item = home.item(home.drop("seal@portfolio@club.jpg"))
    rows, _ = home.planner.still_to_make(item)
    path, _ = home.intend(item, rows[0])
    path.parent.parent.rename(home.home.root / "elsewhere")

    left, stalled = home.planner.still_to_make(item)

    assert [row.destination for row in left] == ["club"]
    assert stalled is not None
    assert stalled.key == Passing.DESTINATION_AWAY
    assert [row.id for row in home.ledger.deliveries.open_intents()] == [rows[0].id]


def test_a_worker_hears_of_all_that_may_be_made(home: Household) -> None:
    """How and at which density, so that its memory can be estimated before."""
    item = home.item(home.drop("seal@journal@club.jpg"))

    found = [(recipe.size.values, density) for recipe, density in home.planner.recipes_for(item)]

    assert found == [((1600,), 1), ((1600,), 2), ((1920, 1080), 1)]
