"""Fair turns: whoever has the least in work goes first, so that no photographer can starve another. Pure."""

from __future__ import annotations

from collections import Counter, deque

from lanternslide.daemon.errand import Errand

__all__ = ["Turns"]


class Turns:
    """Errands that are ready, in the order in which each photographer dropped them."""

    def __init__(self) -> None:
        self._queues: dict[str, deque[Errand]] = {}

    def __len__(self) -> int:
        return sum(map(len, self._queues.values()))

    def add(self, errand: Errand) -> None:
        """Let an errand wait for its turn."""
        self._queues.setdefault(errand.file.photographer, deque()).append(errand)

    def next(self, in_work: Counter[str]) -> Errand:
        """Return the errand whose turn it is, given how many of each photographer's are *in_work*.

        Among those with equally few, whoever has waited longest for a turn goes first.

        Raises
        ------
        IndexError
            If none is ready.
        """
        if not self._queues:
            raise IndexError("no errand is ready")
        photographer = min(self._queues, key=lambda name: in_work[name])
        # Put back behind the others, if something is left.
        queue = self._queues.pop(photographer)
        errand = queue.popleft()
        if queue:
            self._queues[photographer] = queue
        return errand

    def clear(self) -> list[Errand]:
        """Return all errands that are ready, and forget them."""
        errands = [errand for queue in self._queues.values() for errand in queue]
        self._queues.clear()
        return errands
