"""Older work after all that is fresh, and fair among photographers within each."""

from __future__ import annotations

import time
from collections import Counter
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from lanternslide.daemon.errand import Errand
from lanternslide.daemon.marks import Stamps
from lanternslide.daemon.obstacles import Obstacles
from lanternslide.daemon.turns import Turns
from lanternslide.records import DroppedFile, Fingerprint, Routing
from lanternslide.records.events import nobody


def errand(photographer: str, name: str, *, is_older: bool) -> Errand:
    """Return an errand."""
    fingerprint = Fingerprint(size=1, mtime_ns=1, inode=1)
    file = DroppedFile(photographer=photographer, drop=Path("/drop"), relative=Path(name), fingerprint=fingerprint)
    routing = Routing(picture=Path(name), stem=name, folder=Path(), destinations=("club",), why="otherwise")
    return Errand(file=file, routing=routing, original=1, is_older=is_older)


def test_anybodys_fresh_ones_go_before_everybodys_older_ones() -> None:
    """Older ones go on, photographer by photographer, once nothing fresh is ready."""
    turns = Turns()
    for name in "abc":
        turns.add(errand("ida", f"old-{name}", is_older=True))
    turns.add(errand("juno", "old-d", is_older=True))
    turns.add(errand("ida", "new-a", is_older=False))
    turns.add(errand("ida", "new-b", is_older=False))
    turns.add(errand("juno", "new-c", is_older=False))
    in_work: Counter[str] = Counter()
    order = []
    while turns:
        found = turns.next(in_work)
        in_work[found.file.photographer] += 1
        order.append(found.routing.stem)

    assert order == ["new-a", "new-c", "new-b", "old-d", "old-a", "old-b", "old-c"]


def test_an_older_one_makes_way_for_a_new_export() -> None:
    """It is taken out of its place in the middle; a fresh one stays where it is."""
    turns = Turns()
    errands = [errand("ida", name, is_older=True) for name in "abc"]
    for one in (*errands, errand("ida", "d", is_older=False)):
        turns.add(one)

    assert turns.take_out_older(errands[1].key) == errands[1]
    assert turns.take_out_older(errands[1].key) is None
    assert turns.take_out_older(("ida", Path("d"))) is None
    assert turns.take_out_older(("juno", Path("a"))) is None
    assert [turns.next(Counter()).routing.stem for _ in range(3)] == ["d", "a", "c"]
    assert not turns


@given(st.lists(st.tuples(st.sampled_from(["ida", "juno", "kit"]), st.booleans()), max_size=40))
def test_nothing_is_lost_or_overtaken(steps: list[tuple[str, bool]]) -> None:
    """However they come, all have their turn: first the fresh ones, each photographer's in their order."""
    turns = Turns()
    errands = [errand(who, str(number), is_older=older) for number, (who, older) in enumerate(steps)]
    for one in errands:
        turns.add(one)
    assert turns.older() == Counter(one.file.photographer for one in errands if one.is_older)
    in_work: Counter[str] = Counter()
    order = []
    while turns:
        order.append(turns.next(in_work))
        in_work[order[-1].file.photographer] += 1

    assert [one.is_older for one in order] == sorted(one.is_older for one in errands)
    for who in ("ida", "juno", "kit"):
        for older in (False, True):
            mine = [one for one in errands if (one.file.photographer, one.is_older) == (who, older)]
            assert [one for one in order if (one.file.photographer, one.is_older) == (who, older)] == mine


def test_stamps_do_not_wait_for_older_work(tmp_path: Path) -> None:
    """What is fresh is stamped once that is done; what older work has delivered, once, when none is left."""
    stamps = Stamps(tmp_path / "stamps", Obstacles(nobody))
    old, new = errand("ida", "old", is_older=True), errand("ida", "new", is_older=False)
    stamps.begin(old.queues_for)
    stamps.deliver("club", is_older=True)
    stamps.end(old.queues_for)
    assert not (tmp_path / "stamps").exists()

    stamps.begin(old.queues_for)
    stamps.begin(new.queues_for)
    stamps.deliver("journal")
    stamps.end(new.queues_for)
    assert [path.name for path in (tmp_path / "stamps").iterdir()] == ["journal"]

    stamps.end(old.queues_for)
    stamps.end_older()
    assert {path.name for path in (tmp_path / "stamps").iterdir()} == {"club", "journal"}


def test_very_many_cost_no_more_each() -> None:
    """25 times as many take about 25 times as long, however many were taken out before."""

    def seconds(number: int) -> float:
        turns = Turns()
        for index in range(number):
            turns.add(errand("ida", str(index), is_older=False))
        begun = time.process_time()
        while turns:
            turns.next(Counter())
        return time.process_time() - begun

    assert seconds(50_000) < 75 * seconds(2_000)
