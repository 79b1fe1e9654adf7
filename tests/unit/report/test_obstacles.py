"""What is in the way at the moment, and whom that concerns."""

from __future__ import annotations

import pytest

from lanternslide.records.events import Event, Passed, Waits, nobody
from lanternslide.report.obstacles import Obstacles
from lanternslide.words import Passing, say

READ_ONLY, FULL = say(Passing.READ_ONLY, folder="out"), say(Passing.DISK_FULL, folder="out")


def test_an_obstacle_is_told_once() -> None:
    """A line when it begins, one when it becomes another, one when it has passed; none for each try."""
    told: list[Event] = []
    obstacles = Obstacles(told.append)
    assert not obstacles
    for said in (READ_ONLY, READ_ONLY, FULL, FULL):
        obstacles.meet("club", said)
    assert obstacles
    obstacles.pass_by("club")
    obstacles.pass_by("club")
    obstacles.meet("club", FULL)

    first = [Waits(what="club", said=READ_ONLY), Waits(what="club", said=FULL), Passed(what="club")]
    assert told == [*first, Waits(what="club", said=FULL)]


def test_each_thing_has_its_own() -> None:
    """That one has passed says nothing about another."""
    told: list[Event] = []
    obstacles = Obstacles(told.append)
    obstacles.meet("destination club", FULL)
    obstacles.meet("ida: seal.jpg", FULL)
    obstacles.pass_by("destination club")

    assert obstacles
    assert told[1:] == [Waits(what="ida: seal.jpg", said=FULL), Passed(what="destination club")]


def test_what_still_is_in_the_way_after_the_config_was_read_is_told_again() -> None:
    """Nothing is told of as passed, since nobody knows."""
    told: list[Event] = []
    obstacles = Obstacles(told.append)
    obstacles.meet("club", FULL)
    obstacles.forget()
    assert not obstacles
    obstacles.pass_by("club")
    obstacles.meet("club", FULL)

    assert told == [Waits(what="club", said=FULL)] * 2


@pytest.mark.parametrize(
    ("what", "concerns"),
    [
        ("workers", True),
        ("destination club", True),
        ("ida: seal.jpg", True),
        ("ida: drop folder", True),
        ("destination journal", False),
        ("juno: seal.jpg", False),
        ("ida-2: seal.jpg", False),
        ("requests", False),
    ],
)
def test_a_photographer_hears_of_what_concerns_them(what: str, *, concerns: bool) -> None:
    """Their own, their destinations', and everybody's; nothing of another's pictures."""
    obstacles = Obstacles(nobody)
    obstacles.meet(what, FULL)

    assert obstacles.of("ida", ["portfolio", "club"]) == ((FULL.text,) if concerns else ())


def test_one_sentence_is_shown_once() -> None:
    """A full disk stops a hundred pictures, and is one thing to see to."""
    obstacles = Obstacles(nobody)
    for name in ("seal", "kelp", "gull"):
        obstacles.meet(f"ida: {name}.jpg", FULL)
    obstacles.meet("destination club", READ_ONLY)

    assert obstacles.of("ida", ["club"]) == (FULL.text, READ_ONLY.text)
