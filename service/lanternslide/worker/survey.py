"""Surveying an original: its digest and its header."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from lanternslide.chain import plan_deliveries
from lanternslide.chain.memory import estimated_mib
from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.reading.read import read_header
from lanternslide.imaging.reading.source import Header
from lanternslide.records import Changed, DeliveryTask, Recipe, Refused, Stalled, Survey, SurveyTask
from lanternslide.words import Held
from lanternslide.worker.original import answer_of, opened

__all__ = ["check_size", "needed_mib", "survey"]


def survey(task: SurveyTask) -> Survey | Refused | Stalled | Changed:
    """Return what the original is, why it is refused or stalled, or that it has changed since it settled."""
    return answer_of(partial(_survey, task))


def _survey(task: SurveyTask) -> Survey:
    with opened(task.root, task.path, task.fingerprint) as original:
        digest = original.digest()
        header = read_header(original.path)
    check_size(header, task.max_megapixels)
    return Survey(
        digest=digest,
        width=header.width,
        height=header.height,
        bits=header.bits,
        kind=header.kind,
        need_mib=needed_mib(header, task.wanted),
    )


def needed_mib(header: Header, wanted: Sequence[tuple[Recipe, float]]) -> float:
    """Return what a worker takes at its peak, MiB, that makes all that is *wanted*: how, and at which density."""
    tasks = [
        DeliveryTask(delivery=number, destination=str(number), density=density, recipe=recipe, temporary=Path())
        for number, (recipe, density) in enumerate(wanted)
    ]
    return estimated_mib(header, plan_deliveries(tasks, header.width, header.height)[0])


def check_size(header: Header, limit: float) -> None:
    """Make sure that an original has no more megapixels than the *limit*.

    Raises
    ------
    OriginalHeldError
        If it has.
    """
    megapixels = header.width * header.height / 1e6
    if megapixels > limit:
        raise OriginalHeldError(Held.TOO_MANY_PIXELS, megapixels=f"{megapixels:.0f}", limit=f"{limit:g}")
