"""What a sweep would do, original by original; nothing is written."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from lanternslide.preview.rehearsal import Would, rehearse
from lanternslide.requests.remaking import Amount
from lanternslide.requests.request_folder import Request
from lanternslide.words import Held, say
from tests.support.household import CONFIG, FIGURES, Household, household

DAY_NS = 86400 * 10**9
LARGER = CONFIG.replace("long_edge = 1600", "long_edge = 1800")


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


def rehearsed(home: Household, amount: Amount | None = None, **asked: Any) -> list[Would]:
    """Return what a sweep would do."""
    request = Request(command="sweep", **asked)
    return list(rehearse(home.settings, home.ledger, request, Amount() if amount is None else amount))


def files(home: Household) -> dict[str, bytes]:
    """Return every file of the home but the ledger's own, with its bytes."""
    found = [path for path in home.home.root.rglob("*") if path.is_file() and path.parent.name != "state"]
    return {str(path): path.read_bytes() for path in found}


def test_what_is_new_changed_or_waits_is_told_with_where_it_goes(home: Household) -> None:
    """Each with its cause; what is done as it is has no line."""
    home.deliver(home.drop("done@club.jpg"))
    home.deliver(home.drop("changed@club.jpg"))
    home.drop("changed@club.jpg", b"a newer export")
    home.item(home.drop("waits.jpg"))
    home.drop("islands/new@journal@club.jpg")

    assert sorted(rehearsed(home), key=lambda would: would.why) == [
        Would(original="ida: changed@club.jpg", why="changed", destinations=("club",)),
        Would(original="ida: islands/new@journal@club.jpg", why="new", destinations=("journal", "club")),
        Would(original="ida: waits.jpg", why="waits", destinations=("portfolio",)),
    ]


def test_what_would_be_held_is_told_with_its_reason(home: Household) -> None:
    """It goes nowhere."""
    home.drop("seal.jpg", photographer="juno")

    (would,) = rehearsed(home)

    assert (would.original, would.destinations) == ("juno: seal.jpg", ())
    assert would.held == say(Held.NO_DESTINATION, photographer="juno", known="@club").text


@pytest.mark.parametrize("name", ["seal@club.jpg", "seal@jornal.jpg"])
def test_one_destination_alone_leaves_out_all_else(home: Household, name: str) -> None:
    """Also what would be held: it is not known that it goes there."""
    home.drop(name)
    home.drop("both@journal@club.jpg")

    assert rehearsed(home, destination="journal") == [
        Would(original="ida: both@journal@club.jpg", why="new", destinations=("journal",))
    ]


@pytest.mark.parametrize(("since_day", "told"), [(10, True), (11, False)])
def test_originals_from_before_a_day_are_left_out(home: Household, since_day: int, *, told: bool) -> None:
    """Of that very moment they are not."""
    home.drop("seal.jpg", day=10)

    assert bool(rehearsed(home, since_ns=since_day * DAY_NS)) == told


def test_a_drop_folder_that_is_away_is_told_and_stops_nobody(home: Household) -> None:
    """What cannot be seen has not gone."""
    home.home.drop("ida").rmdir()
    home.drop("seal@club.jpg", photographer="juno")

    away, other = rehearsed(home)

    assert away.original == f"ida: {home.home.drop('ida')}"
    assert away.why.startswith("cannot be listed (")
    assert (other.original, other.destinations) == ("juno: seal@club.jpg", ("club",))


def test_what_a_changed_config_touches_is_told_where_it_is_asked_for(home: Household) -> None:
    """A destination is named once, whatever its densities; the amount counts each."""
    home.deliver(home.drop("seal@journal@club.jpg"))
    home.read(LARGER)
    amount = Amount()

    assert rehearsed(home) == []
    assert rehearsed(home, amount, again=True) == [
        Would(original="ida: seal@journal@club.jpg", why="to remake", destinations=("journal",))
    ]
    assert (amount.pictures, amount.deliveries) == (1, 2)
    assert amount.seconds(2) == FIGURES.seconds  # two deliveries at a minute each, two workers


def test_what_was_deleted_is_told_where_it_is_asked_for(home: Household) -> None:
    """Only what is missing."""
    home.deliver(home.drop("seal@journal@club.jpg"))
    home.home.out("club", "seal.jpg").unlink()

    assert rehearsed(home) == []
    assert rehearsed(home, missing=True) == [
        Would(original="ida: seal@journal@club.jpg", why="missing", destinations=("club",))
    ]


def test_a_destination_that_is_new_to_a_picture_is_told(home: Household) -> None:
    """It goes there for the first time."""
    home.deliver(home.drop("seal.jpg"))
    home.read(CONFIG.replace('otherwise = ["portfolio"]', 'otherwise = ["portfolio", "club"]'))

    assert rehearsed(home, again=True) == [Would(original="ida: seal.jpg", why="to remake", destinations=("club",))]


def test_what_has_changed_is_not_told_a_second_time(home: Household) -> None:
    """It is made anew anyway."""
    home.deliver(home.drop("seal@journal.jpg"))
    home.drop("seal@journal.jpg", b"a newer export")
    home.read(LARGER)

    assert [would.why for would in rehearsed(home, again=True)] == ["changed"]


def test_nothing_is_written(home: Household) -> None:
    """Neither a file nor a line in the ledger: asked twice, it says the same."""
    home.deliver(home.drop("seal@journal.jpg"))
    home.drop("new.jpg")
    home.read(LARGER)
    before = files(home)

    first = rehearsed(home, again=True, missing=True)

    assert rehearsed(home, again=True, missing=True) == first
    assert files(home) == before
    assert home.ledger.originals.at("ida", Path("new.jpg")) == []
