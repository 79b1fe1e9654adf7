"""The executor for more than one machine: dask.distributed's scheduler gives orders to its workers.

The engine decides who does what, by the memory that each order needs. What it means when a worker is lost is decided in
`orders`, and when the scheduler is lost, here. All of it runs in one asyncio loop in a thread of its own.
"""

from __future__ import annotations

import asyncio
import logging
import threading
import time
import traceback
from collections.abc import Callable, Coroutine
from concurrent.futures import Future
from contextlib import suppress
from typing import Any

from distributed import Client

from lanternslide.config import Settings
from lanternslide.config.limits import Limits
from lanternslide.errors import PassingFaultError
from lanternslide.records.events import EngineFailed
from lanternslide.words import Passing, Said, named, say
from lanternslide.workers.backoff import Backoff
from lanternslide.workers.cluster.admission import LargestWorker
from lanternslide.workers.cluster.in_thread import aside
from lanternslide.workers.cluster.link import connect, disconnect
from lanternslide.workers.cluster.orders import END_SECONDS, PATIENCE_SECONDS, Entry, Orders
from lanternslide.workers.cluster.registry import Unreachable, WorkerRegistry, check_scheduler, within
from lanternslide.workers.cluster.shared_folders import SharedFolderProbe
from lanternslide.workers.executor import Answer, ExecutorBroken, ExecutorMended, Order, Tell
from lanternslide.workers.worker_process import WORKER

__all__ = ["Cluster"]

TICK_SECONDS = 1.0
"""So often it is looked who is there and who is late."""

SCHEDULER = "scheduler"

# The engine has a log of its own, on the error stream; the service's takes one event a line, and says what matters.
logging.getLogger("distributed").handlers = [logging.NullHandler()]
logging.getLogger("distributed").propagate = False


class Cluster:
    """Does orders with the workers of a dask.distributed scheduler.

    A worker that is lost costs the order that it had an attempt, as with the pool. A scheduler that is lost costs
    nothing: what was under way is given anew once it is there again. What runs twice all the same, because somebody was
    only thought to be lost, writes under names of its own, and only the run whose answer counts is brought to where its
    task said.

    Parameters
    ----------
    ledger
        What the ledger is called.
    tell
        Hears of workers, when nothing can be done, and when work goes on, from the engine's thread.
    module
        The module whose `do` a worker runs.
    """

    def __init__(self, settings: Settings, ledger: str, tell: Tell, module: str = WORKER) -> None:
        self.admission = LargestWorker()  #: Where jobs are admitted.
        self._settings = settings
        self._ledger = ledger
        self._tell = tell
        self._module = module
        self._loop = asyncio.new_event_loop()
        self._wake = asyncio.Event()
        self._tasks: set[asyncio.Task[Any]] = set()
        self._orders = Orders(module, self._do, self._wake.set)
        self._registry: WorkerRegistry | None = None
        self._backoff = Backoff()
        self._fault: BaseException | None = None
        self._client: Client | None = None
        self._serving: asyncio.Task[None] | None = None
        self._is_broken = self._closing = False
        self._lacking_since = time.monotonic()
        self._next_look = 0.0
        self._pings = self._ponged = 0
        self._thread = threading.Thread(target=self._live, name="cluster", daemon=True)
        self._thread.start()

    # Asked by others

    @property
    def slots(self) -> int:
        """How many workers may have work."""
        return self.admission.slots

    def submit(self, order: Order) -> Future[Answer]:
        """Have a worker do *order*; the answer is set by the engine's thread."""
        entry = Entry(order=order)
        self._in_loop(lambda: self._orders.take(entry))
        return entry.answered

    def drain(self) -> None:
        """Begin nothing more; what waits is answered as not begun."""
        self._in_loop(self._drain)

    def adapt(self, settings: Settings, _limits: Limits) -> None:
        """Go by other settings; every worker has to look around anew before it gets more work."""
        self._in_loop(lambda: self._adapt(settings))

    def ping(self) -> bool:
        """Ping the engine's loop; return whether it has answered the last ping."""
        is_heard = self._thread.is_alive() and self._ponged == self._pings
        if is_heard:
            self._pings += 1
            self._in_loop(self._pong)
        return is_heard

    def close(self) -> None:
        """End all work at once: workers that have an order are ended, as far as the scheduler is in reach."""
        self._closing = True
        self._in_loop(self._stop)
        self._thread.join()

    def _in_loop(self, do: Callable[[], None]) -> None:
        with suppress(RuntimeError):  # closed already
            self._loop.call_soon_threadsafe(do)

    # In the loop

    def _stop(self) -> None:
        """Wait for nothing any more."""
        self._wake.set()
        if self._serving is not None:
            self._serving.cancel()

    def _pong(self) -> None:
        self._ponged = self._pings

    def _drain(self) -> None:
        self._orders.is_draining = True
        self._wake.set()

    def _adapt(self, settings: Settings) -> None:
        self._settings = settings
        if self._registry is not None:
            former, self._registry = self._registry, self._new_registry(self._registry.client)
            former.stop()
            self._do(former.close())
            self._note_slots()

    def _do(self, work: Coroutine[Any, Any, Any]) -> None:
        task = asyncio.get_running_loop().create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._done)

    def _done(self, task: asyncio.Task[Any]) -> None:
        """Forget what has ended; if it has failed, begin anew with the scheduler."""
        self._tasks.discard(task)
        if not task.cancelled() and (error := task.exception()) is not None:
            self._fault = error
            self._wake.set()

    def _live(self) -> None:
        with asyncio.Runner(loop_factory=lambda: self._loop) as runner:
            runner.run(self._until_closed())

    async def _until_closed(self) -> None:
        while not self._closing:
            said = await self._with_scheduler()
            if said is not None:
                self._is_broken = True
                self._tell(ExecutorBroken(said=said))
                await self._sleep(self._backoff.next_pause(SCHEDULER))
        with suppress(*Unreachable):
            await within(END_SECONDS, aside(self._orders.clear))

    async def _with_scheduler(self) -> Said | None:
        """Work with a scheduler for as long as it is there; return what is in the way, if not for a moment only."""
        address = self._settings.service.executor
        self._serving = asyncio.create_task(self._serve())
        try:
            await self._serving
        except PassingFaultError as fault:
            return fault.said
        except (*Unreachable, asyncio.CancelledError):
            return None  # it is closed, or tried again at once, and said if it does not answer then
        except Exception as error:  # noqa: BLE001 - whatever the engine's library raises, orders are given anew
            detail = named(error)
            self._tell(EngineFailed(detail=detail, trace="".join(traceback.format_exception(error))))
            return say(Passing.SCHEDULER_AWAY, address=address, detail=detail)
        finally:
            self._serving = None
            await self._leave()
        return None

    async def _serve(self) -> None:
        """Give and hear until the scheduler is lost, or this is closed.

        A client that loses its connection makes another by itself, at once if the scheduler is there. Over that one it
        hears of no topic, and what it had given is lost. So this ends then, too, and all begins anew.
        """
        self._client = client = await connect(self._settings)
        await check_scheduler(self._settings.service.executor, client)
        self._fault = None
        self._registry = self._new_registry(client)
        client.subscribe_topic(self._orders.topic, self._orders.hear)
        client.subscribe_topic("all", self._hear_of_workers)
        self._next_look = 0.0
        connection = client.scheduler_comm
        while client.status == "running" and client.scheduler_comm is connection and not self._closing:
            self._wake.clear()
            if time.monotonic() >= self._next_look:
                self._next_look = time.monotonic() + TICK_SECONDS
                await self._registry.look()
                self._backoff.forget(SCHEDULER)
            self._tell_lacking(self._registry)
            self._orders.look_after(self._registry)
            if self._fault is not None:
                raise self._fault
            with suppress(TimeoutError):
                await within(TICK_SECONDS, self._wake.wait())

    def _hear_of_workers(self, event: tuple[float, object]) -> None:
        """Look at once: somebody has come or gone.

        Another may come at the same address, before anybody looks.
        """
        match event[1]:
            case {"action": "remove-worker", "worker": str(address)} if self._registry is not None:
                self._registry.lose(address)
                self._orders.lose_worker(address)
        self._next_look = 0.0
        self._wake.set()

    def _new_registry(self, client: Client) -> WorkerRegistry:
        return WorkerRegistry(
            client=client,
            settings=self._settings,
            folders_probe=SharedFolderProbe.of(self._settings, self._ledger),
            module=self._module,
            tell=self._tell,
            changed=self._note_slots,
        )

    async def _leave(self) -> None:
        """Let go of a scheduler: end who still works if this is closed, and have all else wait for the next one."""
        client, self._client = self._client, None
        if self._closing and client is not None:
            await self._orders.end_work(client)
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self._orders.lose()  # and what that has cleared away goes on
        registry, self._registry = self._registry, None
        self.admission.note(0, 0.0)
        if registry is not None:
            await registry.close()
        if client is not None:
            await disconnect(client)

    async def _sleep(self, seconds: float) -> None:
        """Wait for so long, or until this is closed; what is not to be begun any more is answered."""
        end = time.monotonic() + seconds
        while not self._closing and (left := end - time.monotonic()) > 0:
            self._wake.clear()
            self._orders.answer_not_begun()
            with suppress(TimeoutError):
                await within(left, self._wake.wait())

    # Whether anything can be done

    def _note_slots(self) -> None:
        """Note who may have work; who has come gets some at once."""
        assert self._registry is not None
        self.admission.note(self._registry.slots, self._registry.largest_mib)
        if self._registry.slots:
            self._lacking_since = time.monotonic()
            if self._is_broken:
                self._is_broken = False
                self._tell(ExecutorMended())
        self._wake.set()

    def _tell_lacking(self, registry: WorkerRegistry) -> None:
        """Say so if nobody may have work for a while."""
        now = time.monotonic()
        if registry.slots:
            self._lacking_since = now
        elif now - self._lacking_since >= PATIENCE_SECONDS:
            self._lacking_since = now
            self._is_broken = True
            refused = registry.last_refusal or say(Passing.NO_WORKER_THERE)
            address = self._settings.service.executor
            self._tell(ExecutorBroken(said=say(Passing.NO_WORKER_FIT, address=address, detail=refused.text)))
