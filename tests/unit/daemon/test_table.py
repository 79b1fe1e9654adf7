"""The table of pictures in hand: what may follow what, and what is found in it."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.daemon.stages import (
    FOLLOWS,
    Ending,
    Finish,
    Hold,
    LetGo,
    LookAgain,
    Making,
    Ready,
    Resting,
    Stage,
    Surveying,
    TryAgain,
    WaitingForMemory,
)
from lanternslide.daemon.table import Table
from lanternslide.records import DroppedFile, Fingerprint, Routing, Survey, WorkItem
from lanternslide.words import Passing, say

SURVEY = Survey(digest="d", width=60, height=40, bits=8, kind="JPEG", need_mib=200.0)
AWAY = say(Passing.ORIGINAL_AWAY, detail="no answer")
STAGES: tuple[type[Stage], ...] = get_args(Stage)
ENDINGS: tuple[type[Ending], ...] = get_args(Ending)


def item(name: str, *, photographer: str = "ida", is_older: bool = False) -> WorkItem:
    """Return the work item of a picture."""
    fingerprint = Fingerprint(size=1, mtime_ns=2, inode=3)
    file = DroppedFile(photographer=photographer, drop=Path("/drop"), relative=Path(name), fingerprint=fingerprint)
    routing = Routing(picture=Path(name), stem=name, folder=Path(), destinations=("club",), why="otherwise")
    return WorkItem(file=file, routing=routing, original=1, is_older=is_older)


def to(kind: type[Stage | Ending], work: WorkItem) -> Stage | Ending:
    """Return what a picture comes to."""
    surveyed = work.surveyed(SURVEY)
    job = surveyed.job((), ())
    every: dict[type[Stage | Ending], Stage | Ending] = {
        Ready: Ready(item=work),
        Surveying: Surveying(item=work, reading=1),
        WaitingForMemory: WaitingForMemory(item=surveyed, reading=1, job=job),
        Making: Making(item=surveyed, reading=1, job=job),
        Resting: Resting(item=work, due=1.0, said=AWAY),
        Finish: Finish(changed=True),
        Hold: Hold(said=AWAY),
        LookAgain: LookAgain(),
        TryAgain: TryAgain(),
        LetGo: LetGo(),
    }
    return every[kind]


WAY: dict[type[Stage], tuple[type[Stage], ...]] = {
    Ready: (),
    Surveying: (Surveying,),
    WaitingForMemory: (Surveying, WaitingForMemory),
    Making: (Surveying, WaitingForMemory, Making),
    Resting: (Surveying, Resting),
}
"""How a picture comes to a stage."""


@pytest.mark.parametrize("after", [*STAGES, *ENDINGS])
@pytest.mark.parametrize("at", STAGES)
def test_only_what_follows_may_come_of_a_stage(at: type[Stage], after: type[Stage | Ending]) -> None:
    """Whatever else is asked for is a fault of the code; after an ending the picture is in hand no more."""
    table, work = Table(), item("seal.jpg")
    table.take_in(work)
    for step in WAY[at]:
        table.move(work.key, to(step, work))

    if after not in FOLLOWS[at]:
        with pytest.raises(AssertionError, match="does not follow"):
            table.move(work.key, to(after, work))
        return
    before = table.move(work.key, to(after, work))

    assert isinstance(before, at)
    assert table.has(work.file) is (after in STAGES)
    stage = table.stage_of(work.key)
    assert stage is None if after in ENDINGS else isinstance(stage, after)


def test_one_work_item_at_a_time_for_each_picture() -> None:
    """Two exports of one picture are never worked on together."""
    table = Table()
    table.take_in(item("seal.jpg"))

    with pytest.raises(AssertionError, match="one work item at a time"):
        table.take_in(item("seal.jpg"))


def test_a_file_is_in_hand_as_it_looks() -> None:
    """Another export under its name is not."""
    table, work = Table(), item("seal.jpg")
    table.take_in(work)

    newer = DroppedFile(
        photographer="ida", drop=work.file.drop, relative=work.file.relative,
        fingerprint=Fingerprint(size=1, mtime_ns=3, inode=3),
    )  # fmt: skip
    assert (table.has(work.file), table.has(newer)) == (True, False)


def test_whose_turn_it_is_takes_into_account_what_waits_for_memory() -> None:
    """A photographer whose pictures are all large does not get every turn."""
    table = Table()
    for name in ("a.jpg", "b.jpg", "c.jpg"):
        table.take_in(item(name))
    table.take_in(item("d.jpg", photographer="juno"))
    first = table.next_ready().item
    table.move(first.key, to(Surveying, first))
    table.move(first.key, to(WaitingForMemory, first))

    assert [first.key[0], table.next_ready().item.key[0]] == ["ida", "juno"]


@given(st.lists(st.tuples(st.sampled_from(["a", "b", "c", "d"]), st.integers(0, 20), st.booleans()), max_size=60))
def test_all_that_is_asked_of_it_agrees(steps: list[tuple[str, int, bool]]) -> None:
    """However pictures come and go: numbers, stages, files and turns tell of the same."""
    table = Table()
    model: dict[str, tuple[WorkItem, type[Stage]]] = {}
    for name, choice, is_older in steps:
        if name not in model:
            work = item(name, is_older=is_older)
            table.take_in(work)
            model[name] = work, Ready
            continue
        work, at = model.pop(name)
        following = sorted(FOLLOWS[at], key=lambda kind: kind.__name__)
        after = following[choice % len(following)]
        table.move(work.key, to(after, work))
        if after in STAGES:
            model[name] = work, next(kind for kind in STAGES if kind is after)

    for kind in STAGES:
        there = {work.key for work, at in model.values() if at is kind}
        assert table.number(kind) == len(there)
        assert {key for key in (work.key for work, _ in model.values()) if type(table.stage_of(key)) is kind} == there
    ready = [work for work, at in model.values() if at is Ready]
    assert sum(table.older_ready().values()) == sum(work.is_older for work in ready)
    if ready:
        assert table.next_ready().item in ready
    else:
        with pytest.raises(IndexError):
            table.next_ready()


def test_what_does_not_follow_changes_nothing() -> None:
    """After a refused move the table and its queue still agree."""
    table = Table()
    made = item("seal.jpg")
    table.take_in(made)

    with pytest.raises(AssertionError, match="Finish does not follow Ready"):
        table.move(made.key, Finish(changed=True))

    assert table.stage_of(made.key) == Ready(item=made)
    assert table.next_ready() == Ready(item=made)
