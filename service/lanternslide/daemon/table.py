"""The table of pictures in hand: one mapping from picture to stage, and the only place that changes one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import TypeVar, cast

from lanternslide.daemon.fair_queue import FairQueue
from lanternslide.daemon.stages import FOLLOWS, Ending, Making, Ready, Resting, Stage, Surveying, WaitingForMemory
from lanternslide.records import DroppedFile, Key, WorkItem

__all__ = ["AT_WORK", "Table"]

Kind = TypeVar("Kind", Ready, Surveying, WaitingForMemory, Making, Resting)

AT_WORK = (Surveying, WaitingForMemory, Making)
"""The stages of a picture that a worker has, or that waits for memory: its photographer's turn is taken."""


class Table:
    """Every picture in hand, and the stage that it is at.

    Stages lie apart by their kind, so that those few that are looked at often are found among very many others. What
    else is asked of them, `FairQueue` and the files by path, follows each change.
    """

    def __init__(self) -> None:
        self._stages: dict[type[Stage], dict[Key, Stage]] = {kind: {} for kind in FOLLOWS}
        self._kinds: dict[Key, type[Stage]] = {}
        self._files: dict[Path, Key] = {}
        self._queue = FairQueue()

    def at(self, kind: type[Kind]) -> dict[Key, Kind]:
        """Return the pictures at one kind of stage, who came there first first; a copy."""
        return {key: stage for key, stage in self._stages[kind].items() if isinstance(stage, kind)}

    def each(self, kind: type[Kind]) -> Iterator[Kind]:
        """Yield the stages of one kind, who came there first first; none of them may move meanwhile."""
        return cast("Iterator[Kind]", iter(self._stages[kind].values()))

    def number(self, *kinds: type[Stage]) -> int:
        """Return how many pictures are at some kinds of stage."""
        return sum(len(self._stages[kind]) for kind in kinds)

    def stage_of(self, key: Key) -> Stage | None:
        """Return the stage of a picture; None if it is not in hand."""
        kind = self._kinds.get(key)
        return None if kind is None else self._stages[kind][key]

    def has(self, file: DroppedFile) -> bool:
        """Return whether a file, as it looks now, is in hand."""
        key = self._files.get(file.path)
        stage = None if key is None else self.stage_of(key)
        return stage is not None and stage.item.file.fingerprint == file.fingerprint

    def items(self) -> Iterator[WorkItem]:
        """Yield all that a worker has, or that waits for memory."""
        for kind in AT_WORK:
            yield from (stage.item for stage in self._stages[kind].values())

    def next_ready(self) -> Ready:
        """Return the picture whose turn it is.

        Raises
        ------
        IndexError
            If none is ready.
        """
        key = self._queue.next(Counter(item.file.photographer for item in self.items()))
        stage = self._stages[Ready][key]
        assert isinstance(stage, Ready)
        return stage

    def older_ready(self) -> Counter[str]:
        """Return how many older pictures of each photographer wait for their turn."""
        return self._queue.older()

    def take_in(self, item: WorkItem) -> None:
        """Take a picture in hand, which is not there yet."""
        assert item.key not in self._kinds, "one work item at a time for each picture"
        self._put(item.key, Ready(item=item))

    def move(self, key: Key, to: Stage | Ending) -> Stage:
        """Have what follows its stage become of a picture; return the stage that it was at.

        Raises
        ------
        AssertionError
            If that does not follow.
        """
        kind = self._kinds[key]
        assert type(to) in FOLLOWS[kind], f"{type(to).__name__} does not follow {kind.__name__}"
        del self._kinds[key]
        before = self._stages[kind].pop(key)
        if kind is Ready:
            self._queue.take_out(key, is_turn=isinstance(to, Surveying))
        self._files.pop(before.item.file.path, None)
        if isinstance(to, Ready | Surveying | WaitingForMemory | Making | Resting):
            self._put(key, to)
        return before

    def _put(self, key: Key, stage: Stage) -> None:
        self._stages[type(stage)][key] = stage
        self._kinds[key] = type(stage)
        self._files[stage.item.file.path] = key
        if isinstance(stage, Ready):
            self._queue.add(key, is_older=stage.item.is_older)
