"""Where a cluster's jobs are admitted: any that fits the largest worker; the engine finds out which is free."""

from __future__ import annotations

from lanternslide.errors import PassingFaultError
from lanternslide.records import Key
from lanternslide.words import Passing, readable_memory

__all__ = ["LargestWorker", "too_large"]


def too_large(need: float, largest: float) -> PassingFaultError:
    """Return what is in the way of a job of *need* MiB where the largest worker takes one of *largest*."""
    return PassingFaultError(
        Passing.NO_WORKER_LARGE_ENOUGH, need=readable_memory(need), largest=readable_memory(largest)
    )


class LargestWorker:
    """Knows how many workers there are and how large; noted by the engine's thread, asked by the main one."""

    def __init__(self) -> None:
        self._noted = (0, 0.0)

    def note(self, slots: int, largest_mib: float) -> None:
        """Have so many workers, of which the largest takes a job of so many MiB."""
        self._noted = (slots, largest_mib)

    @property
    def slots(self) -> int:
        """How many orders can be done at once."""
        return self._noted[0]

    def check(self, need: float) -> None:
        """Make sure that a job that needs *need* MiB fits into a worker, if any is there.

        Raises
        ------
        PassingFaultError
            If all are too small; a larger one may come.
        """
        slots, largest = self._noted
        if slots and need > largest:
            raise too_large(need, largest)

    def fits(self, need: float) -> bool:
        """Return whether a job that needs *need* MiB fits into the largest worker that is there."""
        return need <= self._noted[1]

    def admit(self, waiting: dict[Key, float]) -> list[Key]:
        """Return all jobs that wait."""
        return list(waiting)

    def leave(self, job: Key) -> None:
        """Do nothing: jobs take no room here."""
