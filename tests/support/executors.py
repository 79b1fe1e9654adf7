"""What tests of executors share."""

from __future__ import annotations

import queue
from pathlib import Path
from typing import Any

from lanternslide.config import Settings, load_settings
from lanternslide.config.limits import LOADED_MIB
from lanternslide.records import Job
from lanternslide.workers.executor import (
    Answer,
    AttemptFailed,
    ExecutorBroken,
    ExecutorMended,
    News,
    NotBegun,
    Order,
)
from tests.support.cluster import PATIENCE
from tests.support.misbehaving import Misbehave

__all__ = ["MISBEHAVING", "PATIENCE", "Told", "failure_of", "order", "settings_in", "value_of", "was_begun"]

MISBEHAVING = "tests.support.misbehaving"


def order(
    name: str,
    task: object,
    *,
    called: object = None,
    timeout: float = PATIENCE,
    need_mib: float = LOADED_MIB,
    urgent: bool = True,
) -> Order:
    """Return an order to run the function *name* of `misbehaving` on *task*; a job is one of its own."""
    key = "ida", Path(f"{name} {task}" if called is None else str(called))
    what: Any = task if isinstance(task, Job) else Misbehave(name, task)
    return Order(key=key, task=what, timeout=timeout, need_mib=need_mib, urgent=urgent)


def value_of(answer: Answer) -> Any:
    """Return what a function has returned."""
    assert not isinstance(answer.result, AttemptFailed | NotBegun), answer
    return answer.result


def failure_of(answer: Answer) -> str:
    """Return how an attempt has failed; empty if it has not."""
    return answer.result.detail if isinstance(answer.result, AttemptFailed) else ""


def was_begun(answer: Answer) -> bool:
    """Return whether a worker had an order."""
    return not isinstance(answer.result, NotBegun)


class Told:
    """Takes what an executor tells by itself."""

    def __init__(self) -> None:
        self._queue: queue.SimpleQueue[News] = queue.SimpleQueue()
        self.all: list[News] = []

    def __call__(self, news: News) -> None:
        """Take it."""
        self.all.append(news)
        if isinstance(news, ExecutorBroken | ExecutorMended):
            self._queue.put(news)

    def next(self) -> ExecutorBroken | ExecutorMended:
        """Return the next news of whether anything can be done."""
        news = self._queue.get(timeout=PATIENCE)
        assert isinstance(news, ExecutorBroken | ExecutorMended)
        return news

    def broken(self) -> ExecutorBroken:
        """Return the news that nothing can be done."""
        news = self.next()
        assert isinstance(news, ExecutorBroken)
        return news


def settings_in(folder: Path) -> Settings:
    """Return settings with a drop folder and a destination that are there."""
    for name in ("drop", "out"):
        (folder / name).mkdir()
    config = folder / "lanternslide.toml"
    config.write_text(
        '[photographers.ida]\ndrop = "drop"\n[destinations.club]\nfolder = "out"\nsize = { long_edge = 100 }\n'
    )
    return load_settings(config)
