"""What tests of executors share."""

from __future__ import annotations

import queue
from pathlib import Path

from lanternslide.config import Settings, load_settings
from lanternslide.daemon.executor import ExecutorBroken, ExecutorMended, News, Order
from lanternslide.daemon.room import LOADED_MIB
from tests.support.cluster import PATIENCE

__all__ = ["MISBEHAVING", "PATIENCE", "Told", "order", "settings_in"]

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
    """Return an order to run the function *name* on *task*."""
    key = "ida", Path(f"{name} {task}" if called is None else str(called))
    return Order(key=key, name=name, task=task, timeout=timeout, need_mib=need_mib, urgent=urgent)


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
