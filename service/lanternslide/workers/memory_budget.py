"""Room in memory: jobs are admitted so that together they stay inside the budget. Pure."""

from __future__ import annotations

from lanternslide.config.limits import LOADED_MIB
from lanternslide.errors import OriginalHeldError
from lanternslide.records import Key
from lanternslide.words import Held, readable_memory

__all__ = ["MemoryBudget"]

MOST_PASSED = 8
"""How many smaller jobs may go before one that waits for room; then nothing goes until it fits."""


class MemoryBudget:
    """How much of the budget is taken by which job.

    Parameters
    ----------
    budget
        MiB that all workers may take together.
    workers
        How many there are; each takes `LOADED_MIB` whether it has a job or not.
    """

    def __init__(self, budget: float, workers: int) -> None:
        self.resize(budget, workers)
        self._taken: dict[Key, float] = {}
        self._passed: dict[Key, int] = {}

    def resize(self, budget: float, workers: int) -> None:
        """Have another budget from now on; what is taken stays taken."""
        self.budget = budget
        self._idle = workers * LOADED_MIB

    def needed_for(self, need: float) -> float:
        """Return what the workers take together, MiB, while one makes a job that needs *need* in all."""
        return self._idle + max(need - LOADED_MIB, 0.0)

    def check(self, need: float) -> None:
        """Make sure that a job that needs *need* MiB fits.

        Raises
        ------
        OriginalHeldError
            If it never does.
        """
        if not self.fits(need):
            needed, budget = readable_memory(self.needed_for(need)), readable_memory(self.budget)
            raise OriginalHeldError(Held.NEEDS_MORE_MEMORY, need=needed, budget=budget)

    def fits(self, need: float) -> bool:
        """Return whether a job that needs *need* MiB ever fits."""
        return self.needed_for(need) <= self.budget

    def admit(self, waiting: dict[Key, float]) -> list[Key]:
        """Return which of the *waiting* jobs (their need in MiB, who came first first) may begin; they take their room.

        Smaller ones go before one that does not fit yet, but only so many of them.
        """
        admitted = []
        kept_back: list[Key] = []
        for job, need in waiting.items():
            if any(self._passed.get(other, 0) >= MOST_PASSED for other in kept_back):
                break
            more = max(need - LOADED_MIB, 0.0)
            if self._idle + sum(self._taken.values()) + more > self.budget:
                kept_back.append(job)
                continue
            self._taken[job] = more
            admitted.append(job)
            self._passed.pop(job, None)
            for other in kept_back:
                self._passed[other] = self._passed.get(other, 0) + 1
        return admitted

    def leave(self, job: Key) -> None:
        """Give back what *job* has taken, if anything, and forget that it waited."""
        self._taken.pop(job, None)
        self._passed.pop(job, None)
