"""The contract of all executors: real processes that are killed, hang and fail, behind one seam."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TypeAlias

import psutil
import pytest

from lanternslide.config import Settings
from lanternslide.workers.cluster import Cluster
from lanternslide.workers.executor import AttemptFailed, Executor
from lanternslide.workers.pool import Pool
from tests.support.cluster import ClusterOfProcesses, settings_for
from tests.support.executors import MISBEHAVING, PATIENCE, Told, failure_of, order, settings_in, value_of, was_begun

WORKERS = 2

Opened: TypeAlias = Callable[[], AbstractContextManager[Executor]]


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ClusterOfProcesses]:
    """Run a cluster for all tests here."""
    cluster = ClusterOfProcesses(tmp_path_factory.mktemp("cluster"))
    cluster.start_scheduler()
    cluster.start_workers(WORKERS)
    yield cluster
    cluster.close()


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Return settings with folders that are there."""
    return settings_in(tmp_path)


@pytest.fixture(params=["local", pytest.param("cluster", marks=pytest.mark.slow)])
def opened(request: pytest.FixtureRequest, settings: Settings) -> Opened:
    """Return how to open an executor with two workers."""

    @contextmanager
    def local() -> Iterator[Executor]:
        pool = Pool(WORKERS, Told(), MISBEHAVING)
        try:
            yield pool
        finally:
            pool.close()

    @contextmanager
    def cluster() -> Iterator[Executor]:
        at = request.getfixturevalue("running")
        there = settings_for(settings, at.executor)
        told = Told()
        executor = Cluster(there, "0123456789ab", told, MISBEHAVING)
        try:
            until(lambda: executor.slots == WORKERS, "both workers are taken", told)
            yield executor
        finally:
            executor.close()

    return local if request.param == "local" else cluster


def until(holds: Callable[[], bool], what: str, told: Told | None = None) -> None:
    """Wait until something holds."""
    end = time.monotonic() + PATIENCE
    while not holds():
        assert time.monotonic() < end, (what, told.all if told else None)
        time.sleep(0.02)


def test_every_order_is_answered_once(opened: Opened) -> None:
    """Many orders on few workers: each answer belongs to its order."""
    with opened() as executor:
        orders = [order("double", number) for number in range(50)]
        answers = [(one.key, executor.submit(one)) for one in orders]
        found = {key: answer.result(PATIENCE) for key, answer in answers}

    assert all(answer.key == key for key, answer in found.items())
    assert [value_of(answer) for answer in found.values()] == [2 * number for number in range(50)]


def test_a_worker_that_is_killed_costs_its_own_order_only(opened: Opened) -> None:
    """A worker that dies in native code fails its order; all others are done."""
    with opened() as executor:
        bad = executor.submit(order("crash", signal.SIGKILL))
        others = [executor.submit(order("double", number)) for number in range(10)]
        answers = [answer.result(PATIENCE) for answer in others]

        assert "may have run out of memory" in failure_of(bad.result(PATIENCE))
        assert was_begun(bad.result())
        assert [value_of(answer) for answer in answers] == [2 * number for number in range(10)]


def test_an_order_can_be_given_anew_after_its_worker_has_died(opened: Opened) -> None:
    """Each loss costs an attempt, and the next one finds a worker."""
    with opened() as executor:
        for _ in range(3):
            assert failure_of(executor.submit(order("crash", signal.SIGKILL)).result(PATIENCE))
        assert value_of(executor.submit(order("double", 4)).result(PATIENCE)) == 8


def test_an_idle_worker_that_is_killed_costs_nothing(opened: Opened) -> None:
    """A worker that dies between two orders is replaced without a word."""
    with opened() as executor:
        first = value_of(executor.submit(order("pid", 1)).result(PATIENCE))
        os.kill(first, signal.SIGKILL)
        second = executor.submit(order("pid", 2)).result(PATIENCE)

    assert not failure_of(second)
    assert value_of(second) != first


def test_a_worker_that_hangs_is_ended_in_time(opened: Opened) -> None:
    """An order that takes too long fails, and its worker is gone; the next orders are done."""
    with opened() as executor:
        late = executor.submit(order("hang_with_number", None, timeout=1.0))
        assert failure_of(late.result(PATIENCE)) == "it took longer than 1 seconds"
        for number in range(4):
            assert value_of(executor.submit(order("double", number)).result(PATIENCE)) == 2 * number
        until(lambda: not hanging(), "what hung is gone")


def hanging() -> list[int]:
    """Return the processes that hang."""
    found = [int(path.name) for path in marks() if path.name.isdecimal()]
    return [number for number in found if is_running(number)]


def marks() -> list[Path]:
    """Return the files that orders have left."""
    return list(Path(os.environ["LANTERNSLIDE_HANGING"]).iterdir())


def is_running(number: int) -> bool:
    """Return whether a process runs."""
    try:
        return bool(psutil.Process(number).status() != psutil.STATUS_ZOMBIE)
    except psutil.NoSuchProcess:
        return False


@pytest.fixture(autouse=True, scope="module")
def _hanging(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Have processes that hang leave their numbers."""
    os.environ["LANTERNSLIDE_HANGING"] = str(tmp_path_factory.mktemp("hanging"))
    yield
    del os.environ["LANTERNSLIDE_HANGING"]


def test_the_time_that_an_order_may_take_begins_when_a_worker_has_it(opened: Opened) -> None:
    """What waits behind others is not late."""
    with opened() as executor:
        answers = [executor.submit(order("pause", 1.0, called=number, timeout=3.0)) for number in range(8)]

        assert [failure_of(answer.result(PATIENCE)) for answer in answers] == [""] * 8


def test_an_error_nobody_foresaw_is_told_with_its_trace(opened: Opened) -> None:
    """The message is for the person who waits, the trace for the log."""
    with opened() as executor:
        answer = executor.submit(order("fail", "nothing there")).result(PATIENCE)

    assert failure_of(answer) == "a fault in lanternslide itself, LookupError: nothing there"
    assert isinstance(answer.result, AttemptFailed)
    assert "misbehaving.py" in (answer.result.trace or "")


def test_what_takes_far_too_much_memory_fails_alone(opened: Opened) -> None:
    """It costs one attempt, not the machine; its worker goes on."""
    with opened() as executor:
        answers = [executor.submit(order("allocate", mib, called=n)) for n, mib in enumerate((100, 4000, 100))]
        first, second, third = (answer.result(PATIENCE) for answer in answers)

    assert (value_of(first), value_of(third)) == (100 * 2**20, 100 * 2**20)
    assert failure_of(second) == "it ran out of the memory that it may take"


def test_orders_of_a_drained_executor_are_answered_as_not_begun(opened: Opened) -> None:
    """What is begun goes on; what waits has not cost anything."""
    with opened() as executor:
        before = len(marks())
        begun = [executor.submit(order("pause", 3.0, called=number)) for number in range(WORKERS)]
        until(lambda: len(marks()) == before + WORKERS, "both are begun")
        time.sleep(0.3)  # until that is known
        waiting = [executor.submit(order("double", number)) for number in range(6)]
        executor.drain()

        assert [was_begun(answer.result(PATIENCE)) for answer in waiting] == [False] * 6
        assert all(was_begun(answer.result(PATIENCE)) and not failure_of(answer.result()) for answer in begun)
        assert was_begun(executor.submit(order("double", 9)).result(PATIENCE)) is False


def test_what_is_urgent_goes_before_what_is_not(opened: Opened) -> None:
    """A fresh picture does not wait behind older ones that nobody has begun."""
    with opened() as executor:
        done: list[object] = []
        before = len(marks())
        busy = [executor.submit(order("pause", 2.0, called=number)) for number in range(WORKERS)]
        until(lambda: len(marks()) == before + WORKERS, "both are begun")
        for number in range(6):
            older = executor.submit(order("pause", 0.3, called=f"older {number}", urgent=False))
            older.add_done_callback(lambda answer: done.append(answer.result().key[1].name))
        fresh = executor.submit(order("double", 4, called="fresh"))
        fresh.add_done_callback(lambda answer: done.append(answer.result().key[1].name))
        assert value_of(fresh.result(PATIENCE)) == 8
        assert all(value_of(answer.result(PATIENCE)) == 2.0 for answer in busy)
        until(lambda: len(done) == 7, "all are done")

    assert "fresh" in done[:2]


def test_nobody_is_kept_waiting_by_one_who_has_much_to_do() -> None:
    """The first worker that is free takes an order of whoever has none at work, however many others came before."""
    pool = Pool(WORKERS, Told(), MISBEHAVING)
    try:
        done: list[str] = []
        many = [pool.submit(order("pause", 0.5, called=f"ida {number}")) for number in range(8)]
        juno = replace(order("pause", 0.1, called="juno"), key=("juno", Path("juno")))
        for answer in (*many, pool.submit(juno)):
            answer.add_done_callback(lambda answer: done.append(answer.result().key[1].name))
        until(lambda: len(done) == len(many) + 1, "all are done")
    finally:
        pool.close()

    assert "juno" in done[: WORKERS + 1]


def test_an_executor_that_is_asked_is_alive(opened: Opened) -> None:
    """Its thread hears of each time it is asked."""
    with opened() as executor:
        for _ in range(3):
            until(executor.ping, "alive")


def test_close_ends_what_hangs(opened: Opened) -> None:
    """Closing does not wait for a worker that never ends, and leaves none at work."""
    with opened() as executor:
        executor.submit(order("hang_with_number", None))
        until(lambda: bool(hanging()), "it hangs")
        started = time.monotonic()

    assert time.monotonic() - started < PATIENCE / 2
    until(lambda: not hanging(), "what hung is gone")
