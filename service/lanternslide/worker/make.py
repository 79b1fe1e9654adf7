"""Making all deliveries of an original: decode once, render, encode, write under temporary names."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from lanternslide.chain import PLAN_VERSION, Evidence, Rendering, decode, measure, plan_deliveries
from lanternslide.delivery.files import write_temporary
from lanternslide.errors import PassingFaultError
from lanternslide.imaging.encode import encode_jpeg
from lanternslide.imaging.metadata import Carried, Policy, Wishes, carry_metadata
from lanternslide.imaging.read import read_header
from lanternslide.imaging.source import Header
from lanternslide.imaging.watermark import Stencil, stencil_of
from lanternslide.imaging.working_space import WorkingSpace, working_space
from lanternslide.records import DeliveryTask, Job, LeftOut, Made, Outcome, Recipe, Refused, Stalled
from lanternslide.records.record import Clipped, Figures, Halo, Spread
from lanternslide.words import Doubt, Said, say
from lanternslide.worker.doubts import doubts_of
from lanternslide.worker.memory import bounded, peak_mib
from lanternslide.worker.original import answer_of, opened

__all__ = ["make"]


def make(job: Job) -> tuple[Outcome, ...] | Refused | Stalled | None:
    """Return what became of each delivery of *job*, or of the whole; None if the original has changed.

    What changes while it is read is never published. Memory is bounded by what the survey has estimated.
    """
    return answer_of(partial(_make, job))


def _make(job: Job) -> tuple[Outcome, ...]:
    with bounded(job.survey.need_mib), opened(job.root, job.path, job.fingerprint) as original:
        return _made(job, original.path)


def _made(job: Job, path: Path) -> tuple[Outcome, ...]:
    started = time.monotonic()
    header = read_header(path)
    space = working_space(header)
    tasks = {task.delivery: task for task in job.deliveries}
    stencils, stalled = _stencils(job.deliveries)
    wanted = [task for task in job.deliveries if task.delivery not in stalled]
    plans, left_out = plan_deliveries(wanted, header.width, header.height)
    ways, doubts = decode(header, space, plans)
    share = (time.monotonic() - started) / max(len(ways), 1)
    common = (*job.doubts, *doubts_of(header, space), *doubts)
    outcomes: list[Outcome] = [*stalled.values(), *(LeftOut(delivery=number) for number in left_out)]
    while ways:
        way = ways.pop(0)
        rendered = time.monotonic()
        rendering = way.finish(stencils.get(way.plan.delivery))
        del way
        spent = share + time.monotonic() - rendered
        outcomes.append(_write(tasks[rendering.plan.delivery], rendering, header, space, common, spent))
    return tuple(outcomes)


def _stencils(tasks: Sequence[DeliveryTask]) -> tuple[dict[int, Stencil], dict[int, Stalled]]:
    """Return the marks of deliveries, and what becomes of those whose mark cannot be had now."""
    found: dict[int, Stencil] = {}
    stalled: dict[int, Stalled] = {}
    for task in tasks:
        try:
            if task.recipe.mark is not None:
                found[task.delivery] = stencil_of(task.recipe.mark)
        except PassingFaultError as fault:
            stalled[task.delivery] = Stalled(said=fault.said, delivery=task.delivery)
    return found, stalled


def _write(
    task: DeliveryTask,
    rendering: Rendering,
    header: Header,
    space: WorkingSpace,
    doubts: Sequence[Said],
    seconds: float,
) -> Made | Stalled:
    started = time.monotonic()
    plan = rendering.plan
    jpeg = encode_jpeg(
        rendering.codes,
        quality=plan.quality, chroma=plan.chroma, progressive=plan.progressive, density=header.density,
    )  # fmt: skip
    carried = carry_metadata(header.path, jpeg, _wishes(task.recipe, plan.width, plan.height, header))
    try:
        write_temporary(task.temporary, carried.jpeg)
    except PassingFaultError as fault:
        return Stalled(said=fault.said, delivery=task.delivery)
    return Made(
        delivery=task.delivery,
        bytes=len(carried.jpeg),
        digest=hashlib.sha256(carried.jpeg).hexdigest(),
        figures=_figures(rendering, measure(rendering, jpeg), header, space, seconds + time.monotonic() - started),
        doubts=(*doubts, *plan.doubts, *rendering.doubts, *_doubts_about(carried)),
        captured=carried.captured,
        about=carried.about,
    )


def _wishes(recipe: Recipe, width: int, height: int, header: Header) -> Wishes:
    """Return what metadata a delivery is to have."""
    changed_at = datetime.fromtimestamp(header.path.stat().st_mtime, UTC)
    return Wishes(
        policy=Policy(recipe.metadata),
        keep_location=recipe.keep_location,
        rights=recipe.rights,
        width=width,
        height=height,
        year=str(changed_at.year),
    )


def _doubts_about(carried: Carried) -> Iterator[Said]:
    if carried.left_behind:
        yield say(Doubt.METADATA_LEFT_BEHIND, detail="; ".join(carried.left_behind))
    if carried.lacks_rights:
        yield say(Doubt.RIGHTS_LEFT_BEHIND)
    if carried.year is not None:
        yield say(Doubt.YEAR_OF_FILE, year=carried.year)


def _figures(rendering: Rendering, evidence: Evidence, header: Header, space: WorkingSpace, seconds: float) -> Figures:
    plan = rendering.plan
    return Figures(
        width=plan.width,
        height=plan.height,
        quality=plan.quality,
        chroma=plan.chroma,
        strength=plan.strength,
        rungs=tuple(max(rung.width, rung.height) for rung in plan.rungs),
        profile=space.name,
        bits=header.bits,
        original_width=header.width,
        original_height=header.height,
        delta_e=_spread(evidence.delta_e),
        out_of_gamut=_rounded(rendering.out_of_gamut, 6),
        acutance=None if evidence.acutance is None else _rounded(evidence.acutance),
        halo=Halo(light=_rounded(evidence.halos.light), dark=_rounded(evidence.halos.dark)),
        tone_shift=_spread(evidence.tone_shift),
        clipped=Clipped(shadows=_rounded(evidence.clipped[0], 6), highlights=_rounded(evidence.clipped[1], 6)),
        seconds=round(seconds, 3),
        peak_mib=peak_mib(),
        plan=PLAN_VERSION,
    )


def _spread(found: tuple[float, float]) -> Spread:
    return Spread(mean=_rounded(found[0]), p99=_rounded(found[1]))


def _rounded(value: float, digits: int = 3) -> float:
    """Return a figure with as many digits as mean something."""
    return round(value, digits)
