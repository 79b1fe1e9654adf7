"""Keeps watch over files until they have settled."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator
from pathlib import Path

from lanternslide.intake.scan import look_at
from lanternslide.intake.settling import Sighting, look_again, settles_at
from lanternslide.intake.whole import held_for_writing, tail_is_zeros
from lanternslide.records import DroppedFile

__all__ = ["Settler"]

Key = tuple[str, Path]


class Settler:
    """Holds the candidates and looks at each again until it has stopped changing."""

    def __init__(self, seconds: Callable[[str], float]) -> None:
        self._seconds = seconds  #: How long a photographer's files must stay as they are.
        self._sightings: dict[Key, Sighting] = {}
        self._due: dict[Key, float] = {}
        self._first: dict[Key, float] = {}  # since when each is looked at
        # A heap for each photographer; entries that _due does not confirm are stale.
        self._orders: dict[str, list[tuple[float, Key]]] = {}

    def __len__(self) -> int:
        return len(self._sightings)

    def see(self, file: DroppedFile, now: float) -> bool:
        """Note that *file* was seen; return whether it is new here."""
        key = (file.photographer, file.relative)
        before = self._sightings.get(key)
        sighting = look_again(before, file, now)
        self._sightings[key] = sighting
        self._first.setdefault(key, now)
        if sighting.since == now:
            self._look_at(key, settles_at(sighting, self._seconds(file.photographer), zero_tail=False))
        return before is None

    def _look_at(self, key: Key, due: float) -> None:
        self._due[key] = due
        heapq.heappush(self._orders.setdefault(key[0], []), (due, key))

    def next_due(self) -> float | None:
        """Return when the next look is due, None if there is nothing to look at."""
        return min((due for name in self._orders if (due := self._next_of(name)) is not None), default=None)

    def _next_of(self, photographer: str) -> float | None:
        """Return when the next look at one of a photographer's files is due."""
        order = self._orders[photographer]
        while order and self._due.get(order[0][1]) != order[0][0]:
            heapq.heappop(order)
        return order[0][0] if order else None

    def review(self, now: float, answers: Callable[[str], bool] = lambda _photographer: True) -> Iterator[DroppedFile]:
        """Look again at what is due; yield what has settled and let go of it and of what is gone.

        Photographers take turns, so that nobody waits until another's thousands are looked at. Where a photographer's
        drop folder does not answer, nothing is looked at, and what is due is due later.
        """
        while due := [name for name in self._orders if self._is_due(name, now)]:
            for name in due:
                file = self._review_one(name, now, answers) if self._is_due(name, now) else None
                if file is not None:
                    yield file

    def _is_due(self, photographer: str, now: float) -> bool:
        due = self._next_of(photographer)
        return due is not None and due <= now

    def _review_one(self, photographer: str, now: float, answers: Callable[[str], bool]) -> DroppedFile | None:
        """Look again at the file of a photographer that is due first; return it if it has settled."""
        _, key = heapq.heappop(self._orders[photographer])
        before = self._sightings[key].file
        if not answers(photographer):
            self._look_at(key, now + self._seconds(photographer))
            return None
        found = list(look_at(photographer, before.drop, before.relative))
        if [file.relative for file in found] != [before.relative]:
            self._forget(key)
            return None
        self.see(found[0], now)
        due = self._not_before(self._sightings[key], now)
        if due > now:
            self._look_at(key, due)
            return None
        self._forget(key)
        return found[0]

    def give_up(self, before: float) -> list[DroppedFile]:
        """Let go of the files that were first looked at *before* some time and have not settled; return them."""
        keys = [key for key, since in self._first.items() if since < before]
        files = [self._sightings[key].file for key in keys]
        for key in keys:
            self._forget(key)
        return files

    def _not_before(self, sighting: Sighting, now: float) -> float:
        """Return when to look again at the earliest, which is now or before for a file that has settled."""
        seconds = self._seconds(sighting.file.photographer)
        due = settles_at(sighting, seconds, zero_tail=False)
        if due > now or sighting.file.is_folder:
            return due
        if held_for_writing(sighting.file.path):
            return now + seconds
        return settles_at(sighting, seconds, zero_tail=tail_is_zeros(sighting.file.path))

    def _forget(self, key: Key) -> None:
        del self._sightings[key], self._due[key], self._first[key]
