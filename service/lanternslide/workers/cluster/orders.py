"""Orders on their way through a cluster: given to the engine, heard of, taken back, answered.

Everything here runs in the engine's loop.
"""

from __future__ import annotations

import asyncio
import itertools
import pickle
import secrets
import time
from collections.abc import Callable, Coroutine, Iterable
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from distributed import Client
from distributed.scheduler import KilledWorker

from lanternslide.records import Changed, Fingerprint, Job, Result, Stalled, SurveyTask, Task
from lanternslide.workers.cluster.admission import too_large
from lanternslide.workers.cluster.collecting import OrphanRuns, bring, clear, clear_every_run
from lanternslide.workers.cluster.in_thread import aside
from lanternslide.workers.cluster.registry import Unreachable, WorkerRegistry, within
from lanternslide.workers.cluster.remote import Call, Ran, Unseen, run
from lanternslide.workers.executor import Answer, AttemptFailed, NotBegun, Order
from lanternslide.workers.worker_process import Raised, Returned, fault_of

__all__ = ["PATIENCE_SECONDS", "Entry", "Orders"]

PATIENCE_SECONDS = 30.0
"""For so long it is waited for a worker that is large enough before an order is given back."""

END_SECONDS = 2.0
"""A worker that is ended gets so long to end by itself."""

DROP_SECONDS = 0.02
"""So often it is asked whether the scheduler knows that nobody waits for a run any more."""

HEAR_SECONDS = 0.3
"""Before workers are ended, the news that one has just been given an order gets so long to arrive."""

CLEAR_SECONDS = 60.0
"""So often it is looked whether a run that was thought to be lost has written something after all."""

CLOSE_SECONDS = 5.0
"""A scheduler that does not answer keeps nobody from closing for longer."""


@dataclass(kw_only=True, eq=False, slots=True)
class Entry:
    """An order that is not yet answered."""

    order: Order
    answered: Future[Answer] = field(default_factory=Future)
    since: float = field(default_factory=time.monotonic)  #: Since when it waits for a worker.
    run: str | None = None  #: What it is called in the engine, once that has it.
    given: Any = None  #: The engine's future.
    joined: int = 0  #: How many workers had been accepted when it was given.
    worker: str | None = None  #: Who has it.
    deadline: float | None = None  #: When that worker is ended.
    is_done: bool = False  #: Whether the worker has told what came of it, which is looked at.
    tokens: set[str] = field(default_factory=set)  #: What the temporary files of this run are called by.


class Orders:
    """All orders that are not yet answered.

    Parameters
    ----------
    module
        The module whose `do` a worker runs.
    do
        Has something done beside; what it raises is a fault of the engine.
    changed
        Called when there is something to look after.
    """

    def __init__(
        self, module: str, do: Callable[[Coroutine[Any, Any, Any]], None], changed: Callable[[], None]
    ) -> None:
        self._module = module
        self._do = do
        self._changed = changed
        self.topic = f"lanternslide-{secrets.token_hex(6)}"  #: Where workers tell what they have and what came of it.
        self.is_draining = False  #: Whether nothing more is begun.
        self._numbers = itertools.count(1)
        self._entries: list[Entry] = []
        self._by_run: dict[str, Entry] = {}
        self._orphans = OrphanRuns()
        self._next_clear = 0.0
        self._registry: WorkerRegistry | None = None

    def take(self, entry: Entry) -> None:
        """Have an order wait for a worker."""
        self._entries.append(entry)
        self._changed()

    def look_after(self, registry: WorkerRegistry) -> None:
        """Give what waits to *registry*, and notice what is lost or late."""
        self._registry = registry
        self.answer_not_begun()
        now = time.monotonic()
        for entry in [entry for entry in self._by_run.values() if not entry.is_done]:
            if entry.worker is not None and not registry.has(entry.worker):
                self._fail(entry, "its worker was lost; it may have run out of memory")
            elif entry.deadline is not None and entry.deadline <= now:
                self._do(_end(registry.client, [entry.given], [entry.worker]))
                self._fail(entry, f"it took longer than {entry.order.timeout:.0f} seconds")
            elif entry.worker is None and (
                entry.order.need_mib > registry.largest_mib or entry.joined != registry.joined
            ):
                # All that it was for may have gone, for a moment at least. The engine does not notice that others have
                # come since: what nobody has begun is given anew.
                self._put_back(entry)
        for entry in [entry for entry in self._entries if entry.run is None]:
            self._give_or_stall(entry, registry, now)
        if now >= self._next_clear:
            self._next_clear = now + CLEAR_SECONDS
            if orphans := self._orphans.known():
                self._do(aside(_clear_all, orphans))

    def lose_worker(self, address: str) -> None:
        """Notice that a worker has gone, even if another comes at its address at once."""
        for entry in [entry for entry in self._by_run.values() if entry.worker == address and not entry.is_done]:
            self._fail(entry, "its worker was lost; it may have run out of memory")

    def answer_not_begun(self) -> None:
        """Answer what nobody has begun, if nothing more is to be begun."""
        if self.is_draining:
            for entry in [entry for entry in self._entries if entry.worker is None]:
                self._finish(entry, NotBegun())

    async def end_work(self, client: Client) -> None:
        """End the workers that have an order, as far as they are in reach."""
        if not self._by_run:
            return
        await asyncio.sleep(HEAR_SECONDS)
        entries = list(self._by_run.values())
        with suppress(*Unreachable):  # what is not in reach ends with the scheduler
            await within(CLOSE_SECONDS, _end(client, [e.given for e in entries], [e.worker for e in entries]))

    def lose(self) -> None:
        """Have all orders wait for another scheduler."""
        self._registry = None
        for entry in list(self._by_run.values()):
            self._put_back(entry)

    def clear(self) -> None:
        """Delete what runs have left that nobody waits for any more. It may take as long as a share does."""
        for task in [*self._orphans.tasks(), *(entry.order.task for entry in self._entries)]:
            clear_every_run(task)

    # Given

    def _give_or_stall(self, entry: Entry, registry: WorkerRegistry, now: float) -> None:
        if entry.order.need_mib <= registry.largest_mib:
            self._give(entry, registry)
        elif not registry.slots:
            entry.since = now
        elif now - entry.since >= PATIENCE_SECONDS:
            # Those who were large enough have gone.
            self._finish(entry, Stalled(said=too_large(entry.order.need_mib, registry.largest_mib).said))

    def _give(self, entry: Entry, registry: WorkerRegistry) -> None:
        order = entry.order
        entry.run = f"{type(order.task).__name__}-{self.topic}-{next(self._numbers)}"
        entry.joined = registry.joined
        self._by_run[entry.run] = entry
        call = Call(run=entry.run, registry=registry.name, topic=self.topic, module=self._module, task=order.task)
        entry.given = registry.client.submit(
            run,
            call,
            key=entry.run,
            resources={registry.name: order.need_mib},
            priority=1 if order.urgent else 0,
            pure=False,
        )
        self._do(self._watch(entry, entry.given))

    def _put_back(self, entry: Entry) -> None:
        """Take an order back from the engine, if that has it."""
        given, entry.given = entry.given, None
        if entry.run is not None:
            self._by_run.pop(entry.run, None)
            if entry.tokens or not entry.is_done:
                self._orphans.add(entry.run, entry.order.task, entry.tokens)
        if entry.tokens:
            self._do(aside(clear, entry.order.task, tuple(entry.tokens)))
            entry.tokens.clear()
        entry.run = entry.worker = entry.deadline = None
        entry.is_done = False
        entry.since = time.monotonic()
        if given is not None and self._registry is not None and not given.done():
            self._do(self._registry.client.cancel([given], force=True))
        self._changed()

    # Heard of

    def hear(self, event: tuple[float, dict[str, Any]]) -> None:
        """Note that a worker has an order, or what came of it.

        A second worker has it only because the first was lost.
        """
        told = event[1]
        entry = self._by_run.get(told["run"])
        if entry is None:
            self._hear_orphan(told)
            return
        if "ran" in told:
            entry.is_done = True
            # It comes over loopback or an encrypted connection, from who runs what this service sends.
            self._do(self._conclude(entry, pickle.loads(told["ran"])))  # noqa: S301
            return
        entry.tokens.add(told["token"])
        if entry.is_done:  # by one who was lost right after that
            return
        if entry.worker not in (None, told["worker"]):
            self._fail(entry, "its worker was lost; it may have run out of memory")
            return
        entry.worker = told["worker"]
        entry.deadline = time.monotonic() + entry.order.timeout

    def _hear_orphan(self, told: dict[str, Any]) -> None:
        """Note that a run goes on that does not count; once it has ended, what it has written goes."""
        run, token = told["run"], told["token"]
        if "ran" not in told:
            self._orphans.hear(run, token)
        elif (task := self._orphans.end(run, token)) is not None:
            self._do(aside(clear, task, (token,)))

    async def _watch(self, entry: Entry, given: Any) -> None:
        """Wait until the engine is done with an order; whether it was done well is told otherwise."""
        error = await given.exception()
        if given.status == "cancelled" and entry.given is given:  # the scheduler was lost, for a moment at least
            self._changed()
        if given.status != "error" or entry.given is not given or entry.is_done:
            return
        if isinstance(error, KilledWorker):
            # Several have died that only had it waiting; who had it in work is noticed elsewhere.
            self._put_back(entry)
        else:  # what cannot even be sent is a fault of the code
            self._fail(entry, fault_of(error))

    async def _conclude(self, entry: Entry, ran: Ran) -> None:
        """Answer an order with what came of it, unless its worker does not see what the service sees."""
        given = entry.given
        unseen: Path | None = None
        result: Result | AttemptFailed
        match ran.outcome:
            case Returned(value=value):
                result = value
                unseen = await aside(bring, entry.order.task, value, ran.token)
            case Raised(text=text, trace=trace):
                result = AttemptFailed(detail=text, trace=trace)
            case Unseen(path=path):
                result = Changed()
                unseen = path if await aside(_is_still, entry.order.task) else None
        if isinstance(ran.outcome, Returned) and unseen is None:
            entry.tokens.discard(ran.token)
        if entry.given is not given:  # taken back meanwhile
            return
        if unseen is None:
            self._finish(entry, result)
        elif self._registry is not None:
            # Others may have been given to this worker as well; they are given anew, to those who see what is there.
            task = entry.order.task
            root = task.root if isinstance(task, SurveyTask | Job) else unseen
            await self._registry.distrust(ran.worker, unseen, root)
            for other in [other for other in self._by_run.values() if other.worker is None or other is entry]:
                self._put_back(other)

    # Answered

    def _fail(self, entry: Entry, why: str) -> None:
        self._finish(entry, AttemptFailed(detail=why))

    def _finish(self, entry: Entry, result: Result | AttemptFailed | NotBegun) -> None:
        """Answer an order, and forget it; what was written for nothing goes."""
        self._put_back(entry)
        self._entries.remove(entry)
        entry.answered.set_result(Answer(key=entry.order.key, result=result))


def _clear_all(found: Iterable[tuple[Task, tuple[str, ...]]]) -> None:
    for task, tokens in found:
        clear(task, tokens)


def _is_still(task: Task) -> bool:
    """Return whether an original is still there, as it looked when it was taken in hand."""
    if not isinstance(task, SurveyTask | Job):
        return False
    try:
        return Fingerprint.of(task.path.lstat()) == task.fingerprint
    except OSError:
        return False


async def _end(client: Client, given: list[Any], workers: Iterable[str | None]) -> None:
    """End the processes of *workers*, whatever they are at; their nannies start new ones."""
    # First nobody wants it any more, or the engine would have another worker begin it. The client collects such news
    # for a moment before it sends them; what ends the workers would overtake them.
    await client.cancel(given, force=True)
    with suppress(*Unreachable):
        await within(END_SECONDS, _dropped(client, {future.key for future in given}))
    with suppress(ValueError, *Unreachable):  # gone already
        names = list({worker for worker in workers if worker is not None})
        await client.restart_workers(names, timeout=END_SECONDS, raise_for_error=False)


async def _dropped(client: Client, runs: set[str]) -> None:
    """Wait until the scheduler has none of *runs* any more."""
    while True:
        held = await client.processing()
        if runs.isdisjoint(itertools.chain.from_iterable(held.values())):
            return
        await asyncio.sleep(DROP_SECONDS)
