"""A pool of worker processes: a job that dies or hangs costs its own worker and nobody else's job."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable
from concurrent.futures import CancelledError, Future
from dataclasses import dataclass
from typing import Any

from pebble import ProcessExpired, ProcessPool

from lanternslide.daemon.call import call, prepare_worker
from lanternslide.daemon.errand import Key

__all__ = ["Answer", "Pool"]

TASKS_A_WORKER = 200
"""A worker is replaced after so many tasks, which bounds what a leak in a library can take."""

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VIPS_CONCURRENCY")
"""The libraries' own threads: one for each worker, since the workers fill the cores."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """What came of a task: a value, or what went wrong with the attempt."""

    key: Key  #: What the task was submitted as.
    value: Any = None
    failure: str | None = None  #: For a person.
    error: BaseException | None = None  #: For the log, where the failure is the code's own.


class Pool:
    """Runs the worker's functions in processes of their own and hands each answer to *answer*.

    *answer* is called from a thread of the pool.
    """

    def __init__(self, workers: int, answer: Callable[[Answer], None]) -> None:
        for name in ONE_THREAD:
            os.environ.setdefault(name, "1")
        self._answer = answer
        # A spawned worker shares nothing with this process: no threads, no open database.
        context = multiprocessing.get_context("spawn")
        self._pool = ProcessPool(
            max_workers=workers, max_tasks=TASKS_A_WORKER, initializer=prepare_worker, context=context
        )

    def submit(self, key: Key, name: str, task: object, timeout: float) -> None:
        """Have the worker's function *name* run on *task*; after *timeout* seconds its worker is killed."""
        future = self._pool.schedule(call, args=(name, task), timeout=timeout)
        future.add_done_callback(lambda done: self._answer(_answer_of(key, done, timeout)))

    def close(self, *, kill: bool) -> None:
        """End the workers: after what they are at, or at once."""
        if kill:
            self._pool.stop()  # type: ignore[no-untyped-call]
        else:
            self._pool.close()  # type: ignore[no-untyped-call]
        self._pool.join()


def _answer_of(key: Key, future: Future[Any], timeout: float) -> Answer:
    try:
        return Answer(key=key, value=future.result())
    except TimeoutError:
        return Answer(key=key, failure=f"it took longer than {timeout:.0f} seconds")
    except ProcessExpired as error:
        why = f"the worker process ended with status {error.exitcode}; it may have run out of memory"
        return Answer(key=key, failure=why)
    except CancelledError:
        return Answer(key=key, failure="it was stopped")
    except MemoryError:
        return Answer(key=key, failure="there was not enough memory")
    except Exception as error:  # noqa: BLE001 - a fault of the worker's code costs one attempt of one job
        return Answer(key=key, failure=f"{type(error).__name__}: {error}", error=error)
