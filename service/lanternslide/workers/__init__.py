"""Who does the work: processes of this machine, or a cluster, behind one seam."""

from lanternslide.workers.backoff import Backoff
from lanternslide.workers.choice import executor_for
from lanternslide.workers.executor import (
    Admission,
    Answer,
    AttemptFailed,
    Executor,
    ExecutorBroken,
    ExecutorMended,
    News,
    NotBegun,
    Order,
    post,
    with_ahead,
)
from lanternslide.workers.memory_budget import MemoryBudget
from lanternslide.workers.pool import Pool

__all__ = [
    "Admission",
    "Answer",
    "AttemptFailed",
    "Backoff",
    "Executor",
    "ExecutorBroken",
    "ExecutorMended",
    "MemoryBudget",
    "News",
    "NotBegun",
    "Order",
    "Pool",
    "executor_for",
    "post",
    "with_ahead",
]
