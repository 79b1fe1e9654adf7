"""What runs on a cluster's workers: a look around before they get work, and the work.

A worker's process is dask's. It gets work only once it has shown that it sees what the service sees: then, and not
before, it has the resource that every order asks for. A process that is started anew has it no more, and is looked at
again.
"""

from __future__ import annotations

import asyncio
import ctypes
import hashlib
import os
import pickle
import secrets
import socket
import sys
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import psutil
from distributed import Worker, get_worker
from distributed.core import Status

from lanternslide.records import Fingerprint, Job, SurveyTask, Task
from lanternslide.words import told
from lanternslide.workers.cluster.paths import PathMap, task_there
from lanternslide.workers.worker_process import Raised, Returned, call, go_first

__all__ = ["LIBRARIES", "Call", "Ran", "Sample", "Sight", "Trial", "Unseen", "accept", "look", "run", "sample_of"]

LIBRARIES = ("distributed", "numpy", "opencv-python-headless", "pillow", "pyexiv2", "pyvips-binary", "simplejpeg")
"""Packages whose versions decide how a picture comes out, or what is understood."""

SAMPLE_BYTES = 1 << 16
"""So much of an original is compared, from its beginning."""

TELL_SECONDS = 60.0
"""A scheduler that takes longer to hear of something is lost."""

M_TRIM_THRESHOLD, M_MMAP_THRESHOLD = -1, -3
"""glibc, malloc.h."""

KEPT_BYTES = 32 * 2**20
"""What glibc's own threshold grows to (mallopt(3), DEFAULT_MMAP_THRESHOLD_MAX on 64-bit systems)."""

COARSE_NS = 2_000_000_000
"""File systems keep times to two seconds, at the coarsest (FAT: Microsoft, "File Times")."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Sample:
    """The beginning of an original, as seen from one machine."""

    root: Path
    path: Path
    size: int  #: Bytes.
    digest: str  #: SHA-256 of the first `SAMPLE_BYTES`, hexadecimal.


@dataclass(frozen=True, kw_only=True, slots=True)
class Trial:
    """What a worker is to look at, in paths of the service's machine."""

    module: str  #: The module whose `do` it will run.
    paths: dict[str, dict[str, str]]  #: What folders are called on which host.
    folders: tuple[Path, ...]  #: Where it will write; in each lies a file of this name:
    probe: str
    answer: str  #: What its own file in each folder is to be called.
    samples: tuple[Sample, ...]
    roots: tuple[Path, ...]  #: Where it will read.


@dataclass(frozen=True, kw_only=True, slots=True)
class Sight:
    """What a worker has seen."""

    host: str
    platform: str
    threads: int
    has_nanny: bool
    memory_mib: float  #: What it may take; 0 where nobody has said.
    loaded_mib: float  #: What it takes with everything loaded.
    libraries: tuple[str, ...]  #: Versions of `LIBRARIES`; empty for what is not there.
    probes: tuple[tuple[str, int] | str, ...]  #: Of each folder the probe's SHA-256 and time, ns; or what was wrong.
    samples: tuple[str, ...]  #: Of each sample what was wrong, if anything.
    roots: tuple[str, ...]  #: Of each root what was wrong, if anything.


@dataclass(frozen=True, kw_only=True, slots=True)
class Call:
    """An order on its way to a worker."""

    run: str  #: The name of the task in the engine.
    registry: str  #: Which service's workers may do it, and since which reading of its config.
    topic: str  #: Where the service hears that a worker has it.
    module: str
    task: Task


@dataclass(frozen=True, kw_only=True, slots=True)
class Unseen:
    """The worker does not see an original as the service has seen it."""

    path: Path  #: As the service calls it.


@dataclass(frozen=True, kw_only=True, slots=True)
class Ran:
    """What came of a call."""

    token: str  #: What the run's temporary files are called by.
    worker: str  #: The worker's address.
    outcome: Returned | Raised | Unseen


@dataclass(frozen=True, kw_only=True, slots=True)
class _Place:
    """What a process knows once it was accepted."""

    paths: PathMap
    is_coarse: bool  #: Whether times of files are seen less exactly here than by the service.


PLACES: dict[str, _Place] = {}
"""Where this process was accepted, by registry."""


def look(trial: Trial) -> Sight:
    """Return what this worker sees; leave a file of its own in every folder that it will write to."""
    worker = get_worker()
    host = socket.gethostname()
    paths = PathMap.for_host(host, trial.paths)
    _keep_memory()
    os.environ.setdefault("VIPS_CONCURRENCY", "1")  # before the library is loaded
    import_module(trial.module)
    return Sight(
        host=host,
        platform=sys.platform,
        threads=worker.state.nthreads,
        has_nanny=worker.nanny is not None,
        memory_mib=(worker.memory_manager.memory_limit or 0) / 2**20,
        loaded_mib=psutil.Process().memory_info().rss / 2**20,
        libraries=versions(),
        probes=tuple(_probe(paths.there(folder), trial, worker) for folder in trial.folders),
        samples=tuple(_compare(sample, paths) for sample in trial.samples),
        roots=tuple(_listed(paths.there(root)) for root in trial.roots),
    )


def _keep_memory() -> None:
    """Let this process keep the memory that it has used once, as any other does.

    dask starts a worker with MALLOC_TRIM_THRESHOLD_ set (its documentation, "Worker Memory Management"). It then gives
    back each plane of a picture and is given a fresh one for the next: twice the processor time, as was measured. That
    also keeps glibc from setting its thresholds by itself, so they are set to where that ends (mallopt(3):
    DEFAULT_MMAP_THRESHOLD_MAX, and twice as much for trimming).
    """
    with suppress(AttributeError, OSError):  # another C library, or another system
        mallopt = ctypes.CDLL(None).mallopt
        mallopt(M_MMAP_THRESHOLD, KEPT_BYTES)
        mallopt(M_TRIM_THRESHOLD, 2 * KEPT_BYTES)


def versions() -> tuple[str, ...]:
    """Return the versions of `LIBRARIES` here; empty for what is not there."""
    found = []
    for name in LIBRARIES:
        try:
            found.append(version(name))
        except PackageNotFoundError:
            found.append("")
    return tuple(found)


def _probe(folder: Path, trial: Trial, worker: Worker) -> tuple[str, int] | str:
    try:
        probe = folder / trial.probe
        content = probe.read_bytes()
        if _is_dropped(worker, worker.get_current_task()):
            return "nobody asks any more"  # nor would anybody take the answer away
        (folder / trial.answer).write_bytes(hashlib.sha256(content + trial.answer.encode()).digest())
        return hashlib.sha256(content).hexdigest(), probe.stat().st_mtime_ns
    except OSError as error:
        return f"{folder}: {told(error)}"


def sample_of(root: Path, path: Path) -> Sample:
    """Return the beginning of the original at *path*.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    with path.open("rb") as stream:
        head = stream.read(SAMPLE_BYTES)
        size = os.fstat(stream.fileno()).st_size
    return Sample(root=root, path=path, size=size, digest=hashlib.sha256(head).hexdigest())


def _compare(sample: Sample, paths: PathMap) -> str:
    path = paths.there(sample.root) / sample.path.relative_to(sample.root)
    try:
        found = sample_of(sample.root, path)
    except OSError as error:
        return f"{path}: {told(error)}"
    return "" if (found.size, found.digest) == (sample.size, sample.digest) else f"{path}: other content"


def _listed(root: Path) -> str:
    try:
        with os.scandir(root) as entries:
            next(entries, None)
    except OSError as error:
        return f"{root}: {told(error)}"
    return ""


async def accept(
    registry: str, mib: float, *, is_coarse: bool, paths: dict[str, dict[str, str]], dask_worker: Worker
) -> None:
    """Let this worker get orders of *registry* that need no more than *mib*; with 0 it gets none any more."""
    go_first()
    PLACES[registry] = _Place(paths=PathMap.for_host(socket.gethostname(), paths), is_coarse=is_coarse)
    await dask_worker.set_resources(**{registry: mib})


def run(order: Call) -> None:
    """Do an order; the service hears at once that this worker has it, and in the end what came of it.

    The engine would keep a result on the worker until it is fetched, and lose it with the worker. So it is sent as an
    event, ahead of the news that the task has ended, and has arrived before this process begins anything that may be
    its end.
    """
    worker = get_worker()
    token = secrets.token_hex(4)
    told = {"run": order.run, "token": token, "worker": worker.address}
    _tell_at_once(worker, order.topic, told)
    ran = Ran(token=token, worker=worker.address, outcome=_outcome(order, token, worker))
    _tell_at_once(worker, order.topic, {**told, "ran": pickle.dumps(ran)})


def _tell_at_once(worker: Worker, topic: str, told: Mapping[str, str | bytes]) -> None:
    """Tell the scheduler, and wait until it has heard: what this process does next may be its end."""
    telling = worker.scheduler.log_event(topic=topic, msg=told)
    asyncio.run_coroutine_threadsafe(telling, worker.loop.asyncio_loop).result(TELL_SECONDS)


def _outcome(order: Call, token: str, worker: Worker) -> Returned | Raised | Unseen:
    place = PLACES[order.registry]
    task = task_there(order.task, place.paths, token)
    if isinstance(task, SurveyTask | Job):
        seen = _seen(task.path, task.fingerprint, is_coarse=place.is_coarse)
        if seen is None:  # changed or gone meanwhile, or never seen here: the service can tell which
            assert isinstance(order.task, SurveyTask | Job)
            return Unseen(path=order.task.path)
        task = replace(task, fingerprint=seen)
    outcome = call(import_module(order.module).do, task)
    if _is_dropped(worker, order.run):
        _remove(task)
    elif isinstance(outcome, Returned):
        outcome = Returned(value=place.paths.result_back(outcome.value))
    return outcome


def _seen(path: Path, expected: Fingerprint, *, is_coarse: bool) -> Fingerprint | None:
    """Return how a file looks from this machine, if that is what the service has seen; else None.

    A share may number its files otherwise for each machine, and may show times less exactly.
    """
    try:
        here = Fingerprint.of(path.lstat())
    except OSError:
        return None
    apart = abs(here.mtime_ns - expected.mtime_ns)
    is_same = here.size == expected.size and (apart < COARSE_NS if is_coarse else apart == 0)
    return here if is_same else None


def _is_dropped(worker: Worker, run: str) -> bool:
    """Return whether nobody waits for the task any more: its service has died, or it was taken for lost."""
    if worker.status in (Status.closing, Status.closed, Status.failed):  # the scheduler has given it to another
        return True
    task = worker.state.tasks.get(run)
    return task is None or task.state in ("cancelled", "released", "forgotten")


def _remove(task: Task) -> None:
    if isinstance(task, Job):
        for delivery in task.deliveries:
            with suppress(OSError):
                delivery.temporary.unlink(missing_ok=True)
