"""From the temporary name of the run that counts to the one that its task said; what other runs write goes."""

from __future__ import annotations

import time
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from lanternslide.records import Job, JobDone, Made, Result, Task
from lanternslide.storage import remove_temporary
from lanternslide.workers.cluster.paths import run_path

__all__ = ["OrphanRuns", "bring", "clear", "clear_every_run"]

KEEP_SECONDS = 3600.0
"""A run that was lost longer ago will write nothing more; if it does all the same, the next start takes that away."""

UNBEGUN_SECONDS = 300.0
"""A run that nobody has begun by then was taken back in time."""


def bring(task: Task, result: Result, token: str) -> Path | None:
    """Rename what the run *token* has made of *task* to where that said; return what is not there, if anything.

    It is there where the worker writes to the same share; else nothing is changed, and the run was in vain.
    """
    if not isinstance(task, Job) or not isinstance(result, JobDone):
        return None
    sizes = {outcome.delivery: outcome.bytes for outcome in result.outcomes if isinstance(outcome, Made)}
    made = [delivery for delivery in task.deliveries if delivery.delivery in sizes]
    for delivery in made:
        path = run_path(delivery.temporary, token)
        if not _has(path, sizes[delivery.delivery]):
            return path.parent
    for delivery in made:
        with suppress(OSError):  # gone in this moment, which is found when it is published
            run_path(delivery.temporary, token).replace(delivery.temporary)
    return None


def _has(path: Path, size: int) -> bool:
    try:
        return path.lstat().st_size == size
    except OSError:
        return False


def clear(task: Task, tokens: Iterable[str]) -> None:
    """Delete what runs of *task* have left that do not count. It may take as long as a share does."""
    if isinstance(task, Job):
        for token in tokens:
            for delivery in task.deliveries:
                remove_temporary(run_path(delivery.temporary, token))


def clear_every_run(task: Task) -> None:
    """Delete what any run of *task* has left, also one that nobody has heard of. None may count any more."""
    if isinstance(task, Job):
        for delivery in task.deliveries:
            with suppress(OSError):  # away, and swept at the next start
                for path in list(delivery.temporary.parent.glob(run_path(delivery.temporary, "*").name)):
                    remove_temporary(path)


@dataclass(kw_only=True, slots=True)
class _Orphan:
    task: Task
    tokens: set[str]
    since: float = field(default_factory=time.monotonic)


class OrphanRuns:
    """Runs that do not count any more and may still write: whoever has them was only thought to be lost, or late."""

    def __init__(self) -> None:
        self._orphans: dict[str, _Orphan] = {}  # by the run's name

    def add(self, run: str, task: Task, tokens: Iterable[str]) -> None:
        """Remember that the run *run* does not count; its temporary files are called by *tokens*, or not yet."""
        self._orphans[run] = _Orphan(task=task, tokens=set(tokens))

    def hear(self, run: str, token: str) -> None:
        """Note that somebody has begun a run all the same."""
        if run in self._orphans:
            self._orphans[run].tokens.add(token)

    def end(self, run: str, token: str) -> Task | None:
        """Note that a run has written all that it ever will; return the task whose files are to be cleared."""
        orphan = self._orphans.get(run)
        if orphan is None:
            return None
        orphan.tokens.discard(token)
        if not orphan.tokens:
            del self._orphans[run]
        return orphan.task

    def tasks(self) -> list[Task]:
        """Return the tasks of all runs that may have left something, heard of or not."""
        return [orphan.task for orphan in self._orphans.values()]

    def known(self) -> list[tuple[Task, tuple[str, ...]]]:
        """Return what may be left now, and forget what is old."""
        found = [(orphan.task, tuple(orphan.tokens)) for orphan in self._orphans.values() if orphan.tokens]
        now = time.monotonic()
        for run, orphan in list(self._orphans.items()):
            if now - orphan.since > (KEEP_SECONDS if orphan.tokens else UNBEGUN_SECONDS):
                del self._orphans[run]
        return found
