"""Older work after all that is fresh, and fair among photographers within each."""

from __future__ import annotations

import time
from collections import Counter
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from lanternslide.daemon.fair_queue import FairQueue
from lanternslide.delivery.notices import Stamps
from lanternslide.records import DroppedFile, Fingerprint, Key, Routing, WorkItem
from lanternslide.records.events import nobody
from lanternslide.report.obstacles import Obstacles


def item(photographer: str, name: str, *, is_older: bool) -> WorkItem:
    """Return a work item."""
    fingerprint = Fingerprint(size=1, mtime_ns=1, inode=1)
    file = DroppedFile(photographer=photographer, drop=Path("/drop"), relative=Path(name), fingerprint=fingerprint)
    routing = Routing(picture=Path(name), stem=name, folder=Path(), destinations=("club",), why="otherwise")
    return WorkItem(file=file, routing=routing, original=1, is_older=is_older)


def queue_of(*keys: tuple[str, str, bool]) -> FairQueue:
    """Return a queue of pictures: whose they are, what they are called, and whether they are older work."""
    queue = FairQueue()
    for photographer, name, is_older in keys:
        queue.add((photographer, Path(name)), is_older=is_older)
    return queue


def emptied(queue: FairQueue) -> list[Key]:
    """Take everything out in its turn, as if all of it stayed in work."""
    in_work: Counter[str] = Counter()
    order: list[Key] = []
    while True:
        try:
            key = queue.next(in_work)
        except IndexError:
            return order
        queue.take_out(key, is_turn=True)
        in_work[key[0]] += 1
        order.append(key)


def test_anybodys_fresh_ones_go_before_everybodys_older_ones() -> None:
    """Older ones go on, photographer by photographer, once nothing fresh is ready."""
    queue = queue_of(
        ("ida", "old-a", True), ("ida", "old-b", True), ("ida", "old-c", True), ("juno", "old-d", True),
        ("ida", "new-a", False), ("ida", "new-b", False), ("juno", "new-c", False),
    )  # fmt: skip

    order = [name.name for _, name in emptied(queue)]

    assert order == ["new-a", "new-c", "new-b", "old-d", "old-a", "old-b", "old-c"]


def test_turns_alternate() -> None:
    """Somebody who drops one picture does not wait for the other's thousand."""
    queue = queue_of(*(("ida", str(number), False) for number in range(1000)), ("juno", "seal", False))

    order = [(who, name.name) for who, name in emptied(queue)]

    assert order[:3] == [("ida", "0"), ("juno", "seal"), ("ida", "1")]
    assert len(order) == 1001


def test_who_replaces_a_picture_keeps_the_turn() -> None:
    """Only what a worker gets takes its photographer's turn."""
    queue = queue_of(("ida", "a", True), ("ida", "b", True), ("juno", "c", True))

    queue.take_out(("ida", Path("a")), is_turn=False)

    assert queue.next({}) == ("ida", Path("b"))
    queue.take_out(("ida", Path("b")), is_turn=True)
    assert queue.next({}) == ("juno", Path("c"))


def test_what_is_taken_out_of_the_middle_leaves_the_others_in_their_order() -> None:
    """A new export takes the place of older work; what is not there changes nothing."""
    queue = queue_of(("ida", "a", True), ("ida", "b", True), ("ida", "c", True), ("ida", "d", False))

    queue.take_out(("ida", Path("b")), is_turn=False)
    queue.take_out(("ida", Path("b")), is_turn=False)
    queue.take_out(("juno", Path("a")), is_turn=True)

    assert queue.older() == {"ida": 2}
    assert [name.name for _, name in emptied(queue)] == ["d", "a", "c"]
    assert queue.older() == {}


@given(st.lists(st.tuples(st.sampled_from(["ida", "juno", "kit"]), st.booleans()), max_size=40))
def test_nothing_is_lost_or_overtaken(steps: list[tuple[str, bool]]) -> None:
    """However they come, all have their turn: first the fresh ones, each photographer's in their order."""
    keys = [(who, str(number), older) for number, (who, older) in enumerate(steps)]
    older = {(who, Path(name)): is_older for who, name, is_older in keys}
    queue = queue_of(*keys)
    assert queue.older() == Counter(who for who, is_older in steps if is_older)

    order = emptied(queue)

    assert [older[key] for key in order] == sorted(older.values())
    for who in ("ida", "juno", "kit"):
        for is_older in (False, True):
            mine = [key for key in older if (key[0], older[key]) == (who, is_older)]
            assert [key for key in order if (key[0], older[key]) == (who, is_older)] == mine


def test_stamps_do_not_wait_for_older_work(tmp_path: Path) -> None:
    """What is fresh is stamped once that is done; what older work has delivered, once, when none is left."""
    stamps = Stamps(tmp_path / "stamps", Obstacles(nobody))
    old, new = item("ida", "old", is_older=True), item("ida", "new", is_older=False)
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
        queue = queue_of(*(("ida", str(index), False) for index in range(number)))
        begun = time.process_time()
        emptied(queue)
        return time.process_time() - begun

    assert seconds(50_000) < 75 * seconds(2_000)
