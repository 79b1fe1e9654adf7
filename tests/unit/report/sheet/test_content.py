"""What the pages of a proof sheet say."""

from __future__ import annotations

import pytest

from lanternslide.records import About, Record
from lanternslide.report.sheet.content import Entry, HeldItem, next_step

HELD = [HeldItem(name=name, reason=f"{name} is empty.", since=None) for name in ("a.jpg", "b.jpg")]


@pytest.mark.parametrize(
    ("held", "obstacles", "doubtful", "waiting", "says"),
    [
        (HELD, ["The share is away."], 2, 3, "a.jpg: a.jpg is empty."),
        ([], ["The share is away.", "The disk is full."], 2, 3, "The share is away."),
        ([], [], 2, 3, "Look at 2 deliveries with doubts, below."),
        ([], [], 1, 0, "Look at 1 delivery with doubts, below."),
        ([], [], 0, 3, "Nothing. 3 pictures are waiting to be made."),
        ([], [], 0, 1, "Nothing. 1 picture is waiting to be made."),
        ([], [], 0, 0, "Nothing."),
    ],
)
def test_one_thing_is_to_be_done_next(
    held: list[HeldItem], obstacles: list[str], doubtful: int, waiting: int, says: str
) -> None:
    """What keeps pictures from going out before what is merely to be looked at; then nothing."""
    assert next_step(held, obstacles, doubtful, waiting) == says


@pytest.mark.parametrize(("state", "withdrawn"), [("delivered", False), ("withdrawn", True)])
def test_what_was_taken_back_is_known(state: str, *, withdrawn: bool) -> None:
    """By its record."""
    record = Record.model_validate({"original": "x.jpg", "photographer": "ida", "state": state})

    assert Entry(record=record, shown=None, about=About(), time="12:23").is_withdrawn is withdrawn
