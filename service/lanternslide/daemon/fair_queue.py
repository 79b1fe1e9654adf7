"""Fair turns: whoever has the least in work goes first, so that no photographer can starve another. Pure."""

from __future__ import annotations

from collections import Counter, OrderedDict
from collections.abc import Mapping

from lanternslide.records import Key

__all__ = ["FairQueue"]

# In a plain dict the first one is found ever more slowly, the more were taken out before it.
Lines = dict[str, OrderedDict[Key, None]]


class FairQueue:
    """Pictures that are ready, in the order in which each photographer dropped them; older work after all others'."""

    def __init__(self) -> None:
        self._fresh: Lines = {}
        self._older: Lines = {}

    def add(self, key: Key, *, is_older: bool) -> None:
        """Let a picture wait for its turn."""
        lines = self._older if is_older else self._fresh
        lines.setdefault(key[0], OrderedDict())[key] = None

    def next(self, in_work: Mapping[str, int]) -> Key:
        """Return the picture whose turn it is, given how many of each photographer's are *in_work*; it stays in line.

        Anybody's fresh one goes before everybody's older ones. Among those with equally few in work, whoever has waited
        longest for a turn goes first.

        Raises
        ------
        IndexError
            If none is ready.
        """
        lines = self._fresh or self._older
        if not lines:
            raise IndexError("no picture is ready")
        photographer = min(lines, key=lambda name: in_work.get(name, 0))
        return next(iter(lines[photographer]))

    def take_out(self, key: Key, *, is_turn: bool) -> None:
        """Take a picture out of line; whose turn it was goes behind the others, if more of theirs are left."""
        photographer = key[0]
        for lines in (self._fresh, self._older):
            line = lines.get(photographer)
            if line is not None and key in line:
                del line[key]
                if is_turn or not line:
                    del lines[photographer]
                if is_turn and line:
                    lines[photographer] = line
                return

    def older(self) -> Counter[str]:
        """Return how many older ones of each photographer are ready."""
        return Counter({photographer: len(line) for photographer, line in self._older.items()})
