"""Orders on their way: which are given anew. What real workers make of them is proved with clusters."""

from __future__ import annotations

import asyncio
from types import SimpleNamespace
from typing import Any

import pytest

from lanternslide.daemon.cluster import orders as module
from lanternslide.daemon.cluster.orders import Entry, Orders
from tests.support.executors import order


class Given:
    """Stands in for the engine's future of an order that nobody has begun."""

    status = "pending"

    async def exception(self) -> None:
        """Wait for ever."""
        await asyncio.Event().wait()

    def done(self) -> bool:
        """Return that it waits."""
        return False


class Client:
    """Stands in for the engine's client, and counts."""

    def __init__(self) -> None:
        self.given: list[str] = []
        self.cancelled = 0

    def submit(self, *_: Any, key: str, **__: Any) -> Given:
        """Take an order."""
        self.given.append(key)
        return Given()

    async def cancel(self, given: list[Given], **_: Any) -> None:
        """Take orders back."""
        self.cancelled += len(given)


class Crew(SimpleNamespace):
    """Stands in for the workers that are there."""

    def has(self, _address: str) -> bool:
        """Return that all are there."""
        return True


async def after_a_worker_has_joined(*, begun: bool, waited: float) -> tuple[Client, Entry]:
    """Give an order, have another worker join after so many seconds, and look after it."""
    client, tasks = Client(), set()
    crew = Crew(client=client, name="crew", places=1, largest_mib=1000.0, joined=1)
    found = Orders("a.module", lambda work: tasks.add(asyncio.ensure_future(work)), lambda: None)
    entry = Entry(order=order("double", 1))
    found.take(entry)
    found.look_after(crew)  # type: ignore[arg-type]
    assert entry.run is not None
    if begun:
        found.hear((0.0, {"run": entry.run, "token": "ab", "worker": "tcp://a:1"}))
    entry.given_at -= waited
    crew.joined = 2
    found.look_after(crew)  # type: ignore[arg-type]
    await asyncio.sleep(0)
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    return client, entry


@pytest.mark.parametrize(
    ("begun", "waited", "times"),
    [(False, module.TOLD_SECONDS + 1, 2), (False, 0.0, 1), (True, module.TOLD_SECONDS + 1, 1)],
    ids=["nobody has it", "just given", "begun"],
)
def test_what_nobody_has_begun_is_given_anew_when_a_worker_joins(begun: bool, waited: float, times: int) -> None:  # noqa: FBT001
    """The engine would not give it to the one who has come; what was begun, or may be in this moment, is left alone."""
    client, entry = asyncio.run(after_a_worker_has_joined(begun=begun, waited=waited))

    assert len(client.given) == len(set(client.given)) == times
    assert client.cancelled == times - 1
    assert entry.joined == times
