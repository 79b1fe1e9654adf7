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
from lanternslide.words import Held, readable_bytes
from lanternslide.worker.original import answer_of, opened

__all__ = ["check_bytes", "check_size", "needed_mib", "survey"]


PLAUSIBLE_TIMES, PLAUSIBLE_BYTES = 64, 2**30
"""A file may have so many times the bytes of its pixels, for layers and other pages, and so many more for the rest
(common practice, no source: layered files have ten to thirty times)."""


def survey(task: SurveyTask) -> Survey | Refused | Stalled | Changed:
    """Return what the original is, why it is refused or stalled, or that it has changed since it settled."""
    return answer_of(partial(_survey, task))


def _survey(task: SurveyTask) -> Survey:
    with opened(task.root, task.path, task.fingerprint) as original:
        # What is refused by its header is not read to its end.
        header = read_header(original.path)
        check_size(header, task.max_megapixels)
        check_bytes(header, task.fingerprint.size)
        digest = original.digest()
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


def check_bytes(header: Header, size: int) -> None:
    """Make sure that an original of so many bytes (*size*) is not far larger than its pixels can explain.

    A file with holes can be said to have terabytes, which would be read for days.

    Raises
    ------
    OriginalHeldError
        If it is.
    """
    pixels = header.width * header.height * max(header.channels, 3) * header.bits // 8
    most = PLAUSIBLE_BYTES + PLAUSIBLE_TIMES * pixels
    if size > most:
        raise OriginalHeldError(Held.IMPLAUSIBLE_SIZE, size=readable_bytes(size), most=readable_bytes(most))


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
