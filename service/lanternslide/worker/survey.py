"""Surveying an original: its digest and its header."""

from __future__ import annotations

from pathlib import Path

from lanternslide.chain import plan_deliveries
from lanternslide.chain.memory import estimated_mib
from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.read import read_header
from lanternslide.imaging.source import Header
from lanternslide.records import DeliveryTask, Refused, Stalled, Survey, SurveyTask
from lanternslide.words import Held
from lanternslide.worker.original import OriginalChangedError, opened, unreadable

__all__ = ["survey"]


def survey(task: SurveyTask) -> Survey | Refused | Stalled | None:
    """Return what the original is, why it is refused or stalled, or None if it has changed since it settled."""
    try:
        with opened(task.root, task.path, task.fingerprint) as original:
            digest = original.digest()
            header = read_header(original.path)
        _check_size(header, task.max_megapixels)
    except OriginalChangedError:
        return None
    except OriginalHeldError as held:
        return Refused(said=held.said)
    except OSError as error:
        return Stalled(said=unreadable(error).said)
    return Survey(
        digest=digest,
        width=header.width,
        height=header.height,
        bits=header.bits,
        kind=header.kind,
        need_mib=_need_mib(header, task),
    )


def _need_mib(header: Header, task: SurveyTask) -> float:
    tasks = [
        DeliveryTask(delivery=number, destination=str(number), density=density, recipe=recipe, temporary=Path())
        for number, (recipe, density) in enumerate(task.wanted)
    ]
    return estimated_mib(header, plan_deliveries(tasks, header.width, header.height)[0])


def _check_size(header: Header, limit: float) -> None:
    megapixels = header.width * header.height / 1e6
    if megapixels > limit:
        raise OriginalHeldError(Held.TOO_MANY_PIXELS, megapixels=f"{megapixels:.0f}", limit=f"{limit:g}")
