"""Room in memory: nothing beyond the budget, and nobody starved."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.chain import memory
from lanternslide.config.limits import LOADED_MIB
from lanternslide.errors import OriginalHeldError
from lanternslide.records import Key
from lanternslide.workers.memory_budget import MOST_PASSED, MemoryBudget


def key(name: object) -> Key:
    """Return a key."""
    return "ida", Path(str(name))


def test_a_waiting_worker_is_counted_as_the_estimate_counts_it() -> None:
    """The main process, which never loads the chain, has the same figure for a worker with nothing to do."""
    assert LOADED_MIB == memory.LOADED_MIB


def test_jobs_wait_until_there_is_room() -> None:
    """Two large jobs never run together in a budget for one."""
    room = MemoryBudget(1000, 2)
    assert room.admit({key("a"): 600, key("b"): 600}) == [key("a")]
    assert room.admit({key("b"): 600}) == []
    room.leave(key("a"))
    assert room.admit({key("b"): 600}) == [key("b")]


def test_what_is_larger_than_the_whole_budget_never_fits() -> None:
    """The workers that wait meanwhile count too."""
    room = MemoryBudget(1000, 2)

    assert room.fits(900)
    assert not room.fits(901)
    assert room.needed_for(901) == 1001
    room.check(900)
    with pytest.raises(OriginalHeldError, match=r"needs about 2\.0 GiB of memory, and the whole budget is 1\.0 GiB"):
        room.check(1948)


def test_a_panorama_is_not_starved_by_small_ones() -> None:
    """Small jobs that never end go before it only so often; then everything waits until it fits."""
    room = MemoryBudget(1000, 2)
    assert room.admit({key("first"): 400}) == [key("first")]
    running = key("first")
    passed = 0
    while True:
        admitted = room.admit({key("panorama"): 900, key(passed): 400})
        if not admitted:
            break
        room.leave(running)
        (running,) = admitted
        passed += 1
    assert passed == MOST_PASSED
    room.leave(running)
    assert room.admit({key("panorama"): 900, key("small"): 400}) == [key("panorama")]


@given(st.lists(st.tuples(st.booleans(), st.floats(1, 900)), max_size=60))
def test_the_budget_holds_whatever_comes_and_goes(steps: list[tuple[bool, float]]) -> None:
    """Jobs arrive and end in any order: together they never take more than there is, and all get their turn."""
    room = MemoryBudget(1000, 2)
    waiting: dict[Key, float] = {}
    running: dict[Key, float] = {}

    def admit() -> None:
        for job in room.admit(waiting):
            running[job] = waiting.pop(job)
        extra = sum(max(need - LOADED_MIB, 0) for need in running.values())
        assert 2 * LOADED_MIB + extra <= 1000 or not running

    def end() -> None:
        job = next(iter(running))
        del running[job]
        room.leave(job)

    for number, (comes, need) in enumerate(steps):
        if comes:
            waiting[key(number)] = need
        elif running:
            end()
        admit()
    while running:
        end()
        admit()
    assert not waiting
