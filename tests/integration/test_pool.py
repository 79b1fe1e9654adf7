"""What the pool of this machine does beyond the contract of all executors: starting its processes."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing.context import SpawnProcess
from pathlib import Path

import pytest

from lanternslide.workers import backoff as pauses
from lanternslide.workers.executor import ExecutorBroken
from lanternslide.workers.pool import Pool
from tests.support.executors import MISBEHAVING, PATIENCE, Told, order, value_of


@contextmanager
def pool_of(workers: int, module: str = MISBEHAVING) -> Iterator[tuple[Pool, Told]]:
    """Run a pool meanwhile."""
    told = Told()
    pool = Pool(workers, told, module)
    try:
        yield pool, told
    finally:
        pool.close()


def test_workers_that_cannot_start_are_told_once() -> None:
    """If no worker ever gets ready, that is told instead of trying for ever."""
    with pool_of(1, module="tests.support.no_such_module") as (pool, told):
        pool.submit(order("double", 1))
        broken = told.broken()

    assert "status 1" in broken.said.text


def test_workers_are_tried_again_until_they_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What keeps workers from starting may pass: then the order is done, and that is told."""
    monkeypatch.setattr(pauses, "FIRST_SECONDS", 0.2)
    monkeypatch.syspath_prepend(tmp_path)  # what a spawned worker inherits
    with pool_of(1, module="mended_later") as (pool, told):
        answer = pool.submit(order("double", 4))
        broken = told.broken()
        (tmp_path / "mended_later.py").write_text("from tests.support.misbehaving import do as do\n")
        while isinstance(news := told.next(), ExecutorBroken):
            assert news == broken
        assert value_of(answer.result(PATIENCE)) == 8


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux has this score")
def test_workers_go_first_when_memory_runs_out() -> None:
    """The system ends a worker before the service."""
    with pool_of(1) as (pool, _):
        process = value_of(pool.submit(order("pid", None)).result(PATIENCE))
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
    with pool_of(1) as (pool, _):
        assert value_of(pool.submit(order("double", 4)).result(PATIENCE)) == 8
    assert failed
