"""The seam behind which the work is done: orders go in, a future of an answer comes out.

`pool.Pool` does it with processes of this machine, `cluster.engine.Cluster` with workers of many. Whoever has an
executor knows nothing of either. `choice.executor_for` chooses.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Protocol, TypeAlias

from lanternslide.config import Settings
from lanternslide.config.limits import LOADED_MIB, Limits
from lanternslide.records import Key, Result, Task
from lanternslide.records.events import EngineFailed, WorkerJoined, WorkerLeft, WorkerRefused
from lanternslide.words import Said

__all__ = [
    "Admission",
    "Answer",
    "AttemptFailed",
    "Executor",
    "ExecutorBroken",
    "ExecutorMended",
    "News",
    "NotBegun",
    "Order",
    "Tell",
    "post",
    "with_ahead",
]


AHEAD = 2
"""So many orders wait beyond one for each slot."""

SLOTS_AHEAD = 8
"""Where there are many slots, one order waits for each so many."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Order:
    """What a worker is to do. All of it can be pickled, and none of it is pixels."""

    key: Key  #: What it is called; one order at a time for each.
    task: Task
    timeout: float  #: Seconds from when a worker has it; then that worker is ended.
    need_mib: float = LOADED_MIB  #: What a worker takes at its peak, MiB.
    urgent: bool = True  #: Whether it goes before those that are not.


@dataclass(frozen=True, kw_only=True, slots=True)
class AttemptFailed:
    """The worker died, took too long, or failed in a way that nobody foresaw."""

    detail: str  #: For a person.
    trace: str | None = None  #: For the log, where the failure is the code's own.


@dataclass(frozen=True, kw_only=True, slots=True)
class NotBegun:
    """No worker ever had the order: nothing more is begun."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """What came of an order."""

    key: Key  #: What the order is called.
    result: Result | AttemptFailed | NotBegun


@dataclass(frozen=True, kw_only=True, slots=True)
class ExecutorBroken:
    """Nothing can be done for now; it is tried again with growing pauses, and every order waits."""

    said: Said


@dataclass(frozen=True, kw_only=True, slots=True)
class ExecutorMended:
    """Work goes on."""


News: TypeAlias = ExecutorBroken | ExecutorMended | WorkerJoined | WorkerRefused | WorkerLeft | EngineFailed
"""What an executor says by itself, from its own thread."""

Tell: TypeAlias = Callable[[News], None]


class Admission(Protocol):
    """Decides which jobs may begin, by the memory that they need. Asked by the main thread alone."""

    def check(self, need: float) -> None:
        """Make sure that a job that needs *need* MiB can be done.

        Raises
        ------
        OriginalHeldError
            If it never fits.
        PassingFaultError
            If it fits nowhere at the moment.
        """

    def fits(self, need: float) -> bool:
        """Return whether a job that needs *need* MiB can be done as things stand."""

    def admit(self, waiting: dict[Key, float]) -> list[Key]:
        """Return which of the *waiting* jobs (their need in MiB, who came first first) may begin."""

    def leave(self, job: Key) -> None:
        """Give back what *job* has taken, if anything, and forget that it waited."""


class Executor(Protocol):
    """Does orders. What it is told and asked comes from one thread; its answers come from another.

    An order is answered exactly once. A worker that dies or takes too long costs its own order, whose answer is a
    failure.
    """

    @property
    def admission(self) -> Admission:
        """Where jobs are admitted."""

    @property
    def slots(self) -> int:
        """How many orders can be done at once; it may change."""

    def submit(self, order: Order) -> Future[Answer]:
        """Have *order* done; the future never fails and cannot be cancelled, its answer says what happened."""

    def drain(self) -> None:
        """Begin nothing more; what waits is answered as not begun."""

    def adapt(self, settings: Settings, limits: Limits) -> None:
        """Go by other *settings* and *limits* from the next order on."""

    def ping(self) -> bool:
        """Ping its thread; return whether it has answered the last ping, and so still does its work."""

    def close(self) -> None:
        """End all work at once, and whoever does it as far as they are in reach."""


def with_ahead(slots: int) -> int:
    """Return how many orders an executor has that does so many at once: none of its slots is idle between two."""
    return slots + max(AHEAD, slots // SLOTS_AHEAD)


def post(answer: Future[Answer], put: Callable[[Answer], None]) -> None:
    """Have an *answer* put somewhere once it is there; that happens in the executor's thread."""
    answer.add_done_callback(lambda done: put(done.result()))
