"""Fair turns: whoever has the least in work goes first, so that no photographer can starve another. Pure."""

from __future__ import annotations

from collections import Counter, OrderedDict

from lanternslide.daemon.errand import Errand, Key

__all__ = ["Turns"]

# In a plain dict the first one is found ever more slowly, the more were taken out before it.
Queues = dict[str, OrderedDict[Key, Errand]]


class Turns:
    """Errands that are ready, in the order in which each photographer dropped them; older work after all others'."""

    def __init__(self) -> None:
        self._fresh: Queues = {}
        self._older: Queues = {}

    def __len__(self) -> int:
        return sum(len(queue) for queues in (self._fresh, self._older) for queue in queues.values())

    def add(self, errand: Errand) -> None:
        """Let an errand wait for its turn."""
        queues = self._older if errand.is_older else self._fresh
        queues.setdefault(errand.file.photographer, OrderedDict())[errand.key] = errand

    def next(self, in_work: Counter[str]) -> Errand:
        """Return the errand whose turn it is, given how many of each photographer's are *in_work*.

        Anybody's fresh one goes before everybody's older ones. Among those with equally few in work, whoever has waited
        longest for a turn goes first.

        Raises
        ------
        IndexError
            If none is ready.
        """
        queues = self._fresh or self._older
        if not queues:
            raise IndexError("no errand is ready")
        photographer = min(queues, key=lambda name: in_work[name])
        # Put back behind the others, if something is left.
        queue = queues.pop(photographer)
        _, errand = queue.popitem(last=False)
        if queue:
            queues[photographer] = queue
        return errand

    def older(self) -> Counter[str]:
        """Return how many older ones of each photographer are ready."""
        return Counter({photographer: len(queue) for photographer, queue in self._older.items()})

    def take_out_older(self, key: Key) -> Errand | None:
        """Return the older errand of a picture, which is not ready any more; None if there is none."""
        photographer, _ = key
        queue = self._older.get(photographer)
        if queue is None or key not in queue:
            return None
        errand = queue.pop(key)
        if not queue:
            del self._older[photographer]
        return errand

    def clear(self) -> list[Errand]:
        """Return all errands that are ready, and forget them."""
        errands = [
            errand for queues in (self._fresh, self._older) for queue in queues.values() for errand in queue.values()
        ]
        self._fresh.clear()
        self._older.clear()
        return errands
