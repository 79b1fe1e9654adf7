"""A cluster's workers: who is there, who may have work, and why the others may not."""

from __future__ import annotations

import asyncio
import concurrent.futures
import pkgutil
import secrets
import time
from collections.abc import Callable, Coroutine
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

import distributed
from distributed import Client
from distributed.comm import CommClosedError

from lanternslide import __version__
from lanternslide.config import Settings
from lanternslide.config.limits import LOADED_MIB
from lanternslide.errors import PassingFaultError
from lanternslide.records.events import WorkerJoined, WorkerLeft, WorkerRefused
from lanternslide.words import Passing, Said, named, readable_memory, say
from lanternslide.workers.backoff import Backoff
from lanternslide.workers.cluster.in_thread import aside
from lanternslide.workers.cluster.remote import Sight, Trial, accept, look
from lanternslide.workers.cluster.shared_folders import SharedFolderProbe

__all__ = ["VERSION", "Unreachable", "WorkerRegistry", "check_scheduler", "host_in", "within"]

Found = TypeVar("Found")

ANSWER_SECONDS = 20.0
"""A scheduler that takes longer to answer is away."""

CLEAR_SECONDS = 2.0
"""Probes get so long to be taken away; what is left then goes at the next start."""

LOOK_SECONDS = 120.0
"""A worker that takes longer to load everything and to look around gets no work; it is asked again later."""

AT_ONCE = 16
"""So many workers look around at the same time."""

SHARE = 0.75
"""Of its memory limit a worker's process may take so much: beyond, dask pauses it at 0.8 (its documentation, "Worker
Memory Management"), and ends it at 0.95."""

VERSION = "lanternslide:__version__"
"""By such a name Python's own library finds a version that it can be asked for by any other version."""

Unreachable = (OSError, CommClosedError, TimeoutError, asyncio.TimeoutError, concurrent.futures.CancelledError)
"""What is raised where a scheduler or a worker does not answer."""


@dataclass(kw_only=True, slots=True)
class _Worker:
    host: str  #: What it is called, as far as that is known.
    mib: float = 0.0  #: How large a job it takes, MiB; 0: it gets none.
    told: Said | None = None  #: Why it gets none, as it was told last.
    doubted: tuple[Path, Path] | None = None  #: What it did not see, and the folder for that, if it was refused for it.
    looking: asyncio.Task[None] | None = None  #: While it is looked at.
    due: float | None = None  #: When it is looked at again; None while it is looked at, or once it was accepted.


@dataclass(kw_only=True)
class WorkerRegistry:
    """The workers that one scheduler has, for one reading of the config.

    Everything here runs in the engine's loop.
    """

    client: Client
    settings: Settings
    folders_probe: SharedFolderProbe
    module: str
    tell: Callable[[WorkerJoined | WorkerRefused | WorkerLeft], None]
    changed: Callable[[], None]  #: Called when somebody has come, gone, or may have work.
    name: str = field(default_factory=lambda: f"lanternslide-{secrets.token_hex(6)}")  #: The resource's name.
    last_refusal: Said | None = None

    def __post_init__(self) -> None:
        self.joined = 0  #: How many workers have been accepted so far.
        self._workers: dict[str, _Worker] = {}
        self._backoff = Backoff()
        self._looking: set[asyncio.Task[None]] = set()
        self._clearing: set[asyncio.Task[None]] = set()
        self._fallen: set[str] = set()  # hosts of workers that ended before they had looked around
        self._gate = asyncio.Semaphore(AT_ONCE)

    @property
    def slots(self) -> int:
        """How many workers may have work."""
        return sum(worker.mib > 0 for worker in self._workers.values())

    @property
    def largest_mib(self) -> float:
        """How large a job fits somewhere, MiB."""
        return max((worker.mib for worker in self._workers.values()), default=0.0)

    def has(self, address: str) -> bool:
        """Return whether a worker is still there."""
        return address in self._workers

    async def look(self) -> None:
        """Find out who has come and gone; have those who are new look around.

        Raises
        ------
        OSError
            If the scheduler does not answer.
        """
        present = set(await within(ANSWER_SECONDS, self.client.nthreads()))
        for address in [address for address in self._workers if address not in present]:
            self.lose(address)
        now = time.monotonic()
        for address in present:
            worker = self._workers.setdefault(address, _Worker(host=host_in(address), due=now))
            if worker.due is not None and worker.due <= now:
                worker.due = None
                worker.looking = task = asyncio.create_task(self._examine(address, worker))
                self._looking.add(task)
                task.add_done_callback(self._looking.discard)

    def lose(self, address: str) -> None:
        """Forget a worker that has gone; who comes at its address is another."""
        worker = self._workers.pop(address, None)
        if worker is None:
            return
        self._backoff.forget(address)
        if worker.looking is not None:
            worker.looking.cancel()
        if worker.mib or worker.told:
            self.tell(WorkerLeft(host=worker.host))
        elif worker.host not in self._fallen:  # and others in its place, again and again
            self._fallen.add(worker.host)
            detail = "it ended while it loaded everything, perhaps for want of memory"
            self.last_refusal = say(Passing.WORKER_SILENT, host=worker.host, detail=detail)
            self.tell(WorkerRefused(host=worker.host, said=self.last_refusal))
        self.changed()

    def stop(self) -> None:
        """Look at nobody any more."""
        self._workers.clear()
        for task in self._looking:
            task.cancel()

    async def close(self) -> None:
        """Look at nobody any more, and take the probes away."""
        self.stop()
        await asyncio.gather(*self._looking, return_exceptions=True)
        with suppress(*Unreachable):
            await within(CLEAR_SECONDS, aside(self.folders_probe.clear))

    async def distrust(self, address: str, path: Path, root: Path) -> None:
        """Give a worker that does not see *path*, which is in *root*, no more work until it sees it."""
        worker = self._workers.get(address)
        if worker is None or not worker.mib:
            return
        worker.mib, worker.doubted = 0.0, (root, path)
        said = say(Passing.WORKER_SEES_OTHER, host=worker.host, path=path, detail="it does not see this")
        self._refuse(address, worker, said)
        with suppress(*Unreachable):
            await within(ANSWER_SECONDS, self._accept(address, 0.0, is_coarse=False))

    async def _examine(self, address: str, worker: _Worker) -> None:
        async with self._gate:
            try:
                await self._try(address, worker)
            except PassingFaultError as fault:
                self._refuse(address, worker, fault.said)
            except Unreachable as error:
                self._refuse(address, worker, say(Passing.WORKER_SILENT, host=worker.host, detail=named(error)))
            except Exception as error:  # noqa: BLE001 - whatever a worker of another make raises is no fault of ours
                said = say(Passing.WORKER_CANNOT_LOAD, host=worker.host, detail=named(error))
                self._refuse(address, worker, said)
            finally:
                worker.looking = None

    async def _try(self, address: str, worker: _Worker) -> None:
        await self._check_size(address, worker.host)
        await within(LOOK_SECONDS, aside(self.folders_probe.lay))
        theirs = self._ask(address, pkgutil.resolve_name, VERSION)
        await _check_version(worker.host, "lanternslide", theirs, __version__)
        paths = self.settings.cluster.paths if self.settings.cluster else {}
        trial = await within(LOOK_SECONDS, aside(self.folders_probe.trial, self.module, paths, worker.doubted))
        is_answered = False
        try:
            sight: Sight = await self._ask(address, look, trial)
            is_answered = True
            worker.host = sight.host
            await within(LOOK_SECONDS, aside(self.folders_probe.check, sight, trial))
        finally:
            self._clear_answers(trial, is_answered=is_answered)
        mib = sight.memory_mib * SHARE - sight.loaded_mib + LOADED_MIB
        if mib <= LOADED_MIB:
            raise PassingFaultError(Passing.WORKER_TOO_SMALL, host=sight.host, memory=readable_memory(sight.memory_mib))
        is_coarse = self.folders_probe.is_coarse(sight, trial)
        await within(ANSWER_SECONDS, self._accept(address, mib, is_coarse=is_coarse))
        if self._workers.get(address) is not worker:
            return
        worker.mib, worker.told, worker.doubted = mib, None, None
        self.joined += 1
        self._backoff.forget(address)
        self.tell(WorkerJoined(host=sight.host, memory=readable_memory(mib)))
        self.changed()

    async def _check_size(self, address: str, host: str) -> None:
        """Make sure that a worker does not end as soon as it has loaded everything."""
        asked = self.client.scheduler.broadcast(msg={"op": "identity"}, workers=[address])
        limit = (await within(ANSWER_SECONDS, asked))[address]["memory_limit"]
        if limit and limit / 2**20 * SHARE <= LOADED_MIB:
            raise PassingFaultError(Passing.WORKER_TOO_SMALL, host=host, memory=readable_memory(limit / 2**20))

    def _clear_answers(self, trial: Trial, *, is_answered: bool) -> None:
        task = asyncio.create_task(aside(partial(self.folders_probe.clear_answers, trial, is_answered=is_answered)))
        self._clearing.add(task)
        task.add_done_callback(self._clearing.discard)

    async def _ask(self, address: str, function: Callable[..., Found], *args: object) -> Found:
        """Return what *function* finds on a worker, in the thread that does its work: a hang costs nobody else."""
        key = f"lanternslide-look-{secrets.token_hex(6)}"
        future = self.client.submit(function, *args, key=key, workers=[address], allow_other_workers=False, pure=False)
        try:
            found: Found = await within(LOOK_SECONDS, future)
        finally:
            future.release()
        return found

    def _accept(self, address: str, mib: float, *, is_coarse: bool) -> Coroutine[Any, Any, object]:
        paths = self.settings.cluster.paths if self.settings.cluster else {}
        accepting: Coroutine[Any, Any, object] = self.client.run(
            accept, self.name, mib, is_coarse=is_coarse, paths=paths, workers=[address]
        )
        return accepting

    def _refuse(self, address: str, worker: _Worker, said: Said) -> None:
        if self._workers.get(address) is worker and self.client.status == "running":
            worker.due = time.monotonic() + self._backoff.next_pause(address)
            self.last_refusal = said
            if worker.told == said:
                return
            worker.told = said
            self.tell(WorkerRefused(host=worker.host, said=said))
            self.changed()


async def check_scheduler(address: str, client: Client) -> None:
    """Make sure that the scheduler has what this service has.

    Raises
    ------
    PassingFaultError
        If it has another version, or lanternslide is not installed there.
    OSError
        If it does not answer.
    """
    for package, ours in (("lanternslide", __version__), ("distributed", distributed.__version__)):
        # Its own functions find out.
        theirs = client.run_on_scheduler(pkgutil.resolve_name, f"{package}:__version__")
        await _check_version(address, package, within(ANSWER_SECONDS, theirs), ours)


async def _check_version(host: str, package: str, asked: Coroutine[Any, Any, object], ours: str) -> None:
    try:
        theirs = await asked
    except (ImportError, AttributeError) as error:
        raise PassingFaultError(Passing.WORKER_CANNOT_LOAD, host=host, detail=named(error)) from error
    if theirs != ours:
        raise PassingFaultError(Passing.WORKER_OTHER_VERSION, host=host, package=package, theirs=theirs, ours=ours)


async def within(seconds: float, asked: Any) -> Any:
    """Return what is *asked*, if it is there in so many seconds.

    Raises
    ------
    TimeoutError
        If it is not.
    """
    return await asyncio.wait_for(asked, seconds)


def host_in(address: str) -> str:
    """Return the host of ``tcp://HOST:PORT``."""
    return address.partition("://")[2].rpartition(":")[0]
