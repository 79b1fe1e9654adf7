"""From the temporary name of the run that counts to the one that its task said."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from lanternslide.daemon.cluster.paths import run_path
from lanternslide.delivery import remove_temporary
from lanternslide.records import Job, Made

__all__ = ["bring", "clear"]


def bring(task: object, value: object, token: str) -> Path | None:
    """Rename what the run *token* has made of *task* to where that said; return what is not there, if anything.

    It is there where the worker writes to the same share; else nothing is changed, and the run was in vain.
    """
    if not isinstance(task, Job) or not isinstance(value, tuple):
        return None
    sizes = {outcome.delivery: outcome.bytes for outcome in value if isinstance(outcome, Made)}
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


def clear(task: object, tokens: Iterable[str]) -> None:
    """Delete what runs of *task* have left that do not count."""
    if isinstance(task, Job):
        for token in tokens:
            for delivery in task.deliveries:
                remove_temporary(run_path(delivery.temporary, token))
