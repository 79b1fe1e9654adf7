"""A pool of worker processes: a job that dies or hangs costs its own worker and nobody else's job.

Each worker has a pipe of its own, so that one that is killed at any moment leaves nothing locked or half-read that
another needs; shared queues do.
"""

from __future__ import annotations

import math
import multiprocessing
import os
import threading
import time
from collections import Counter, deque
from concurrent.futures import Future
from dataclasses import dataclass, field
from multiprocessing.connection import wait
from multiprocessing.context import SpawnContext, SpawnProcess

from lanternslide.config import Settings
from lanternslide.config.limits import Limits
from lanternslide.records import Result
from lanternslide.words import Passing, say, told
from lanternslide.workers.backoff import Backoff
from lanternslide.workers.executor import Answer, AttemptFailed, ExecutorBroken, ExecutorMended, NotBegun, Order, Tell
from lanternslide.workers.memory_budget import MemoryBudget
from lanternslide.workers.worker_process import READY, TAKEN, WORKER, Raised, Returned, run_worker

__all__ = ["Pool"]

TASKS_A_WORKER = 200
"""A worker is replaced after so many tasks, which bounds what a leak in a library can take."""

MOST_FAILED_STARTS = 5
"""Workers in a row that end before they are ready: then something is wrong, and the next one waits."""

START_SECONDS = 60.0
"""A worker that is not ready by then never will be."""

START_PAUSE_SECONDS = 0.2
"""Before the next try to start a worker; longer ones follow where several have failed."""

END_SECONDS = 5.0
"""For so long the end of a killed process is waited for: one that hangs on a dead share ends when that answers."""

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VIPS_CONCURRENCY")
"""The libraries' own threads: one for each worker, since the workers fill the cores."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Entry:
    """An order that is not yet answered."""

    order: Order
    future: Future[Answer] = field(default_factory=Future)

    def answer(self, result: Result | AttemptFailed | NotBegun) -> None:
        self.future.set_result(Answer(key=self.order.key, result=result))

    def fail(self, detail: str, trace: str | None = None) -> None:
        self.answer(AttemptFailed(detail=detail, trace=trace))


class _Worker:
    """A worker process and what it is at."""

    def __init__(self, context: SpawnContext, module: str) -> None:
        self.connection, theirs = context.Pipe()
        self.process: SpawnProcess = context.Process(
            target=run_worker, args=(theirs, module), name="lanternslide worker"
        )
        self.process.start()
        theirs.close()
        self.ready = False
        self.entry: _Entry | None = None
        self.has_taken = False
        self.deadline = time.monotonic() + START_SECONDS  #: When it is ended, if it is not idle.
        self.tasks = 0

    @property
    def is_idle(self) -> bool:
        return self.ready and self.entry is None

    def give(self, entry: _Entry) -> None:
        order = entry.order
        self.entry = entry
        self.has_taken = False
        self.deadline = time.monotonic() + order.timeout
        self.tasks += 1
        self.connection.send(order.task)

    def end(self) -> None:
        """Kill the process, if it still runs, and wait until it is gone."""
        self.process.kill()
        self.process.join(END_SECONDS)
        if self.process.exitcode is not None:
            self.process.close()
        self.connection.close()


class Pool:
    """Does orders with processes of this machine.

    Parameters
    ----------
    workers
        How many there are at the most; they are started as they are needed.
    tell
        Hears that no worker can be started, and that one can again, from the pool's thread.
    module
        The module whose `do` a worker runs.
    memory_mib
        MiB that all workers may take together.
    """

    def __init__(self, workers: int, tell: Tell, module: str = WORKER, *, memory_mib: float = math.inf) -> None:
        for name in ONE_THREAD:
            os.environ.setdefault(name, "1")
        self._tell = tell
        self.admission = MemoryBudget(memory_mib, workers)  #: Where jobs are admitted.
        self._most = workers
        self._module = module
        # A spawned worker shares nothing with this process: no threads, no open database.
        self._context = multiprocessing.get_context("spawn")
        self._waiting: deque[_Entry] = deque()
        self._workers: list[_Worker] = []
        self._failed_starts = 0
        self._backoff = Backoff()
        self._next_start = 0.0
        self._closing = False
        self._is_draining = False
        self._pings = self._ponged = 0
        self._wake_reader, self._wake_writer = self._context.Pipe(duplex=False)
        self._thread = threading.Thread(target=self._supervise, name="pool", daemon=True)
        self._thread.start()

    @property
    def slots(self) -> int:
        """How many orders can be done at once."""
        return self._most

    def submit(self, order: Order) -> Future[Answer]:
        """Have a worker do an order; the answer is set by the pool's thread."""
        entry = _Entry(order=order)
        self._waiting.append(entry)
        self._wake_writer.send(None)
        return entry.future

    def ping(self) -> bool:
        """Ping the pool's thread; return whether it has answered the last ping, and so still does its work."""
        is_heard = self._thread.is_alive() and self._ponged == self._pings
        if is_heard:
            self._pings += 1
            self._wake_writer.send(self._pings)
        return is_heard

    def drain(self) -> None:
        """Begin nothing more; what waits is answered as not begun."""
        self._is_draining = True
        self._wake_writer.send(None)

    def adapt(self, _settings: Settings, limits: Limits) -> None:
        """Have as many workers as the limits say; those beyond that are ended once they are idle."""
        self._most = limits.workers
        self.admission.resize(limits.memory_mib, limits.workers)
        self._wake_writer.send(None)

    def close(self) -> None:
        """End the workers at once, whatever they are at."""
        self._closing = True
        self._wake_writer.send(None)
        self._thread.join()
        for worker in self._workers:
            worker.end()
        self._wake_reader.close()
        self._wake_writer.close()

    def _supervise(self) -> None:
        while not self._closing:
            self._assign()
            self._listen()
            self._end_late()

    def _assign(self) -> None:
        """Give waiting orders to idle workers, and start workers while there are too few."""
        while self._is_draining and self._waiting:
            self._waiting.popleft().answer(NotBegun())
        idle = [worker for worker in self._workers if worker.is_idle]
        while idle and len(self._workers) > self._most:
            self._remove(idle.pop())
        while self._waiting and idle:
            worker = idle.pop()
            try:
                entry = self._next()
                worker.give(entry)
            except OSError:  # it has died in the meantime; that is noticed when its end is read
                worker.entry = None
                continue
            self._waiting.remove(entry)
        if time.monotonic() < self._next_start:
            return
        starting = sum(not worker.ready for worker in self._workers)
        while len(self._waiting) > starting and len(self._workers) < self._most:
            try:
                self._workers.append(_Worker(self._context, self._module))
            except OSError as error:
                self._start_failed(told(error))
                return
            starting += 1

    def _next(self) -> _Entry:
        """Return the waiting order that goes first: an urgent one, of whoever has fewest at work."""
        at_work = Counter(worker.entry.order.key[0] for worker in self._workers if worker.entry is not None)
        return min(self._waiting, key=lambda entry: (not entry.order.urgent, at_work[entry.order.key[0]]))

    def _listen(self) -> None:
        """Wait for something to happen to a worker, or for a new order, or until one is late."""
        # A pipe is of one class on Windows and of another elsewhere.
        by_connection: dict[object, _Worker] = {worker.connection: worker for worker in self._workers}
        deadlines = [worker.deadline for worker in self._workers if not worker.is_idle]
        if self._waiting and self._next_start > time.monotonic():
            deadlines.append(self._next_start)
        seconds = max(0.0, min(deadlines) - time.monotonic()) if deadlines else None
        for connection in wait([self._wake_reader, *(worker.connection for worker in self._workers)], seconds):
            if connection is self._wake_reader:
                self._ponged = connection.recv() or self._ponged
            else:
                self._hear(by_connection[connection])

    def _hear(self, worker: _Worker) -> None:
        try:
            message: object = worker.connection.recv()
        except (EOFError, OSError):  # closed by its death; a message that was cut off is one as well
            self._died(worker)
            return
        if message == READY:
            worker.ready = True
            self._started()
            return
        if message == TAKEN:
            worker.has_taken = True
            return
        entry, worker.entry = worker.entry, None
        if worker.tasks >= TASKS_A_WORKER:
            self._remove(worker)
        assert entry is not None
        match message:
            case Returned(value=value):
                entry.answer(value)
            case Raised(text=text, trace=trace):
                entry.fail(text, trace)
            case _:
                raise AssertionError(f"a worker sent {message!r}")

    def _died(self, worker: _Worker) -> None:
        worker.process.join()
        status = worker.process.exitcode
        self._remove(worker)
        if worker.entry is not None and not worker.has_taken:
            self._waiting.appendleft(worker.entry)  # it was dead before it had the task
        elif worker.entry is not None:
            worker.entry.fail(f"its worker process ended with status {status}; it may have run out of memory")
        elif not worker.ready:
            self._start_failed(f"they end with status {status}")

    def _start_failed(self, detail: str) -> None:
        self._failed_starts += 1
        self._next_start = time.monotonic() + START_PAUSE_SECONDS
        if self._failed_starts >= MOST_FAILED_STARTS:
            if any(worker.ready for worker in self._workers):
                self._failed_starts = 0  # those that run go on; this one is tried again later
                self._next_start = time.monotonic() + self._backoff.next_pause(WORKER)
                return
            self._next_start = time.monotonic() + self._backoff.next_pause(WORKER)
            self._tell(ExecutorBroken(said=say(Passing.NO_WORKERS, detail=detail)))

    def _started(self) -> None:
        if self._failed_starts >= MOST_FAILED_STARTS:
            self._backoff.forget(WORKER)
            self._tell(ExecutorMended())
        self._failed_starts = 0

    def _end_late(self) -> None:
        now = time.monotonic()
        for worker in [worker for worker in self._workers if not worker.is_idle and worker.deadline <= now]:
            self._remove(worker)
            if worker.entry is None:
                self._start_failed(f"they are not ready after {START_SECONDS:.0f} seconds")
            else:
                worker.entry.fail(f"it took longer than {worker.entry.order.timeout:.0f} seconds")

    def _remove(self, worker: _Worker) -> None:
        self._workers.remove(worker)
        worker.end()
