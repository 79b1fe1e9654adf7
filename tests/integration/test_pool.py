"""The pool with real worker processes that are killed, hang and fail."""

from __future__ import annotations

import os
import queue
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing.context import SpawnProcess
from pathlib import Path

import pytest

from lanternslide.daemon import pauses
from lanternslide.daemon.pool import Answer, Pool, PoolBroken, PoolMended

MISBEHAVING = "tests.support.misbehaving"
PATIENCE = 60.0


class Answers:
    """Takes what a pool tells."""

    def __init__(self) -> None:
        self._queue: queue.SimpleQueue[Answer | PoolBroken | PoolMended] = queue.SimpleQueue()

    def __call__(self, answer: Answer | PoolBroken | PoolMended) -> None:
        """Take one."""
        self._queue.put(answer)

    def next(self) -> Answer:
        """Return the next one."""
        answer = self._queue.get(timeout=PATIENCE)
        assert isinstance(answer, Answer)
        return answer

    def any(self) -> Answer | PoolBroken | PoolMended:
        """Return whatever comes next."""
        return self._queue.get(timeout=PATIENCE)

    def broken(self) -> PoolBroken:
        """Return the message that the pool is broken."""
        answer = self._queue.get(timeout=PATIENCE)
        assert isinstance(answer, PoolBroken)
        return answer


@contextmanager
def pool_of(workers: int, module: str = MISBEHAVING) -> Iterator[tuple[Pool, Answers]]:
    """Run a pool meanwhile."""
    answers = Answers()
    pool = Pool(workers, answers, module)
    try:
        yield pool, answers
    finally:
        pool.close()


def key(name: object) -> tuple[str, Path]:
    """Return a task's key."""
    return "ida", Path(str(name))


def test_every_task_is_answered_once() -> None:
    """Many tasks on few workers: each answer belongs to its task."""
    with pool_of(2) as (pool, answers):
        for number in range(50):
            pool.submit(key(number), "double", number, PATIENCE)
        found = {answer.key: answer.value for answer in (answers.next() for _ in range(50))}

    assert found == {key(number): 2 * number for number in range(50)}


def test_a_worker_that_is_killed_costs_its_own_task_only() -> None:
    """A worker that dies in native code fails its task; all others are done."""
    with pool_of(2) as (pool, answers):
        pool.submit(key("bad"), "crash", signal.SIGKILL, PATIENCE)
        for number in range(10):
            pool.submit(key(number), "double", number, PATIENCE)
        found = {answer.key: answer for answer in (answers.next() for _ in range(11))}

    assert "status -9" in (found.pop(key("bad")).failure or "")
    assert all(answer.failure is None for answer in found.values())


def test_an_idle_worker_that_is_killed_costs_nothing() -> None:
    """A worker that dies between two tasks is replaced without a word."""
    with pool_of(1) as (pool, answers):
        pool.submit(key(1), "pid", None, PATIENCE)
        first = answers.next().value
        os.kill(first, signal.SIGKILL)
        pool.submit(key(2), "pid", None, PATIENCE)
        second = answers.next()

    assert second.failure is None
    assert second.value != first


def test_a_worker_that_hangs_is_ended_in_time() -> None:
    """A task that takes too long fails, and its worker is gone; the next task is done."""
    with pool_of(1) as (pool, answers):
        pool.submit(key(1), "pid", None, PATIENCE)
        process = answers.next().value
        pool.submit(key(2), "hang", None, 0.3)
        pool.submit(key(3), "double", 4, PATIENCE)
        late, fine = answers.next(), answers.next()
        assert not Path(f"/proc/{process}").exists() or not Path("/proc").exists()

    assert (late.key, late.failure) == (key(2), "it took longer than 0 seconds")
    assert fine.value == 8


def test_an_error_nobody_foresaw_is_told_with_its_trace() -> None:
    """The message is for the person who waits, the trace for the log."""
    with pool_of(1) as (pool, answers):
        pool.submit(key(1), "fail", "nothing there", PATIENCE)
        answer = answers.next()

    assert answer.failure == "LookupError: nothing there"
    assert "misbehaving.py" in (answer.trace or "")


def test_workers_that_cannot_start_are_told_once() -> None:
    """If no worker ever gets ready, that is told instead of trying for ever."""
    with pool_of(1, module="tests.support.no_such_module") as (pool, answers):
        pool.submit(key(1), "double", 1, PATIENCE)
        broken = answers.broken()

    assert "status 1" in broken.detail


def test_workers_are_tried_again_until_they_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What keeps workers from starting may pass: then the task is done, and that is told."""
    monkeypatch.setattr(pauses, "FIRST_SECONDS", 0.2)
    monkeypatch.syspath_prepend(tmp_path)  # what a spawned worker inherits
    with pool_of(1, module="mended_later") as (pool, answers):
        pool.submit(key(1), "double", 4, PATIENCE)
        broken = answers.broken()
        (tmp_path / "mended_later.py").write_text("def double(number):\n    return 2 * number\n")
        while isinstance(told := answers.any(), PoolBroken):
            assert told.detail == broken.detail
        done = answers.next()

    assert isinstance(told, PoolMended)
    assert done.value == 8


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux bounds what a process allocates for itself")
def test_a_job_that_takes_far_too_much_memory_fails_alone() -> None:
    """It costs one attempt, not the machine; its worker goes on."""
    with pool_of(1) as (pool, answers):
        for number, mib in enumerate((100, 4000, 100)):
            pool.submit(key(number), "allocate", mib, PATIENCE)
        first, second, third = (answers.next() for _ in range(3))

    assert (first.value, third.value) == (100 * 2**20, 100 * 2**20)
    assert second.failure == "it ran out of the memory that it may take"


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux has this score")
def test_workers_go_first_when_memory_runs_out() -> None:
    """The system ends a worker before the service."""
    with pool_of(1) as (pool, answers):
        pool.submit(key(1), "pid", None, PATIENCE)
        process = answers.next().value
        assert Path(f"/proc/{process}/oom_score_adj").read_text().strip() == "900"


def test_a_start_that_fails_once_is_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """The system refuses a process for a moment: the task is done without another one coming."""
    start = SpawnProcess.start
    failed: list[bool] = []

    def fails_once(process: SpawnProcess) -> None:
        if not failed:
            failed.append(True)
            raise BlockingIOError(11, "Resource temporarily unavailable")
        start(process)

    monkeypatch.setattr(SpawnProcess, "start", fails_once)
    with pool_of(1) as (pool, answers):
        pool.submit(key(1), "double", 4, PATIENCE)
        assert answers.next().value == 8
    assert failed


def test_close_ends_what_hangs() -> None:
    """Closing does not wait for a worker that never ends."""
    with pool_of(1) as (pool, answers):
        pool.submit(key(1), "pid", None, PATIENCE)
        process = answers.next().value
        pool.submit(key(2), "hang", None, PATIENCE)
        started = time.monotonic()

    assert time.monotonic() - started < PATIENCE / 2
    assert not Path(f"/proc/{process}").exists() or not Path("/proc").exists()
