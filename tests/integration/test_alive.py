"""Threads that hang are told from threads that have nothing to do."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from threading import Event

from lanternslide.intake import DropWatcher
from lanternslide.workers.executor import Answer
from lanternslide.workers.pool import Pool
from tests.support.executors import order
from tests.support.service import PATIENCE


def until(holds: Callable[[], bool], what: str) -> None:
    """Wait until something holds."""
    end = time.monotonic() + PATIENCE
    while not holds():
        assert time.monotonic() < end, what
        time.sleep(0.02)


def is_silent(is_alive: Callable[[], bool]) -> bool:
    """Return whether ten looks within half a second find no life, which a thread that is merely late would show."""
    for _ in range(10):
        if is_alive():
            return False
        time.sleep(0.05)
    return True


def test_a_pool_that_hangs_is_not_alive() -> None:
    """The pool's thread is asked, and not only whether it has ended."""
    hangs, go_on = Event(), Event()

    def take(_answer: Future[Answer]) -> None:
        hangs.set()
        go_on.wait(PATIENCE)

    pool = Pool(1, lambda _news: None, module="tests.support.misbehaving")
    try:
        for _ in range(3):
            until(pool.ping, "alive")
        pool.submit(order("double", 1)).add_done_callback(take)
        assert hangs.wait(PATIENCE)
        until(lambda: is_silent(pool.ping), "silent")
    finally:
        go_on.set()
    until(pool.ping, "alive again")
    pool.close()


def test_a_watcher_that_hangs_is_not_alive(tmp_path: Path) -> None:
    """The observer's thread is asked, and not only whether it has ended; a forgotten folder is no hang."""
    hangs, go_on = Event(), Event()

    def hint(_name: str, _path: Path) -> None:
        hangs.set()
        go_on.wait(PATIENCE)

    watcher = DropWatcher(hint, lambda: None)
    try:
        watcher.watch("ida", tmp_path)
        for _ in range(3):
            until(watcher.ping, "alive")
        (tmp_path / "stack.jpg").write_bytes(b"x")
        assert hangs.wait(PATIENCE)
        until(lambda: is_silent(watcher.ping), "silent")
    finally:
        go_on.set()
    until(watcher.ping, "alive again")
    watcher.forget("ida")
    assert watcher.ping()
    watcher.stop()
