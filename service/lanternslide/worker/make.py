"""Making all deliveries of an original: decode once, render, encode, write under temporary names."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from lanternslide.chain import (
    Rendering,
    decode,
    findings_about,
    findings_about_quality,
    forecast,
    measure,
    plan_deliveries,
)
from lanternslide.errors import PassingFaultError
from lanternslide.imaging.colour.working_space import WorkingSpace, working_space
from lanternslide.imaging.encode import decode_again
from lanternslide.imaging.reading.read import read_header
from lanternslide.imaging.reading.source import Header
from lanternslide.imaging.watermark import DrawnWatermark, draw_watermark
from lanternslide.records import (
    Changed,
    DeliveryTask,
    Job,
    JobDone,
    LeftOut,
    Made,
    Outcome,
    Refused,
    Stalled,
    Unrecognised,
)
from lanternslide.storage.files import write_temporary
from lanternslide.words import Doubt, Note, Said, say
from lanternslide.worker.carrying import carried_over
from lanternslide.worker.encoding import encoded, wishes_of
from lanternslide.worker.figures import Finished, figures_of
from lanternslide.worker.findings import findings_about_metadata, findings_of
from lanternslide.worker.memory import bounded
from lanternslide.worker.original import answer_of, opened
from lanternslide.worker.proofs import closeup_of, write_proofs
from lanternslide.worker.recognise import Recognised, recognised

__all__ = ["make"]

OF_ORIGINAL = frozenset({Doubt.POSTERISED.value})
"""Doubts about the original that not every size of it shows."""

NAME_DIGITS = 16
"""So many digits of a delivery's digest tell its small pictures from all others."""


def make(job: Job) -> JobDone | Refused | Stalled | Changed:
    """Return what became of each delivery of *job*, or of the whole, or that the original has changed.

    What changes while it is read is never published. Memory is bounded by what the survey has estimated.
    """
    return answer_of(partial(_make, job))


def _make(job: Job) -> JobDone:
    with bounded(job.survey.need_mib), opened(job.root, job.path, job.fingerprint) as original:
        return _made(job, original.path)


def _made(job: Job, path: Path) -> JobDone:
    started = time.monotonic()
    header = read_header(path)
    space = working_space(header)
    tasks = {task.delivery: task for task in job.deliveries}
    drawn, stalled = _drawn(job.deliveries)
    wanted = [task for task in job.deliveries if task.delivery not in stalled]
    plans, left_out = plan_deliveries(wanted, header.width, header.height)
    ways, found = decode(header, space, plans)
    share = (time.monotonic() - started) / max(len(ways), 1)
    common = (*job.findings, *findings_of(header, space), *found)
    outcomes: list[Outcome] = [*stalled.values(), *(LeftOut(delivery=number) for number in left_out)]
    while ways:
        way = ways.pop(0)
        rendered = time.monotonic()
        task = tasks[way.plan.delivery]
        rendering = way.finish(drawn.get(task.delivery), closeup_of if task.proofs else None)
        del way
        spent = share + time.monotonic() - rendered
        outcomes.append(_write(task, rendering, header, space, common, spent))
    return JobDone(outcomes=tuple(_alike(outcomes)))


def _alike(outcomes: Sequence[Outcome]) -> Iterator[Outcome]:
    """Yield the outcomes; what one delivery has shown of the original itself is said of all."""
    found = {doubt for made in outcomes if isinstance(made, Made) for doubt in made.doubts if doubt.key in OF_ORIGINAL}
    for outcome in outcomes:
        if isinstance(outcome, Made):
            yield replace(outcome, findings=(*outcome.findings, *sorted(found - {*outcome.findings}, key=_key)))
        else:
            yield outcome


def _key(said: Said) -> str:
    return said.key


def _drawn(tasks: Sequence[DeliveryTask]) -> tuple[dict[int, DrawnWatermark], dict[int, Stalled]]:
    """Return the marks of deliveries, and what becomes of those whose mark cannot be had now."""
    found: dict[int, DrawnWatermark] = {}
    stalled: dict[int, Stalled] = {}
    for task in tasks:
        try:
            if task.recipe.mark is not None:
                found[task.delivery] = draw_watermark(task.recipe.mark)
        except PassingFaultError as fault:
            stalled[task.delivery] = Stalled(said=fault.said, delivery=task.delivery)
    return found, stalled


def _write(
    task: DeliveryTask,
    rendering: Rendering,
    header: Header,
    space: WorkingSpace,
    findings: Sequence[Said],
    seconds: float,
) -> Made | Unrecognised | Stalled:
    started = time.monotonic()
    plan = rendering.plan
    wishes = wishes_of(task.recipe, plan.width, plan.height, header)
    found = encoded(rendering, header, wishes)
    jpeg = found.chosen.jpeg
    carried = carried_over(header, jpeg, wishes)
    known = None if task.standing is None else recognised(task.standing, carried.jpeg)
    if task.standing is not None and known is None:
        return Unrecognised(delivery=task.delivery)
    try:
        if known is None:
            write_temporary(task.temporary, carried.jpeg)
    except PassingFaultError as fault:
        return Stalled(said=fault.said, delivery=task.delivery)
    seen = decode_again(jpeg)
    evidence = measure(rendering, seen)
    left = None if task.recipe.forecast is None else forecast(rendering, carried.jpeg, task.recipe.forecast)
    measured = findings_about(
        rendering, evidence, bits=header.bits, gamut_ratio=space.gamut_ratio, is_filled=header.alpha
    )  # fmt: skip
    finished = Finished(rendering=rendering, found=found, evidence=evidence, left=left)
    data = carried.jpeg if known is None else known.data
    digest = hashlib.sha256(data).hexdigest()
    shown = write_proofs(task.proofs, digest[:NAME_DIGITS], rendering, seen, found) if task.proofs else None
    return Made(
        delivery=task.delivery,
        bytes=len(data),
        digest=digest,
        figures=figures_of(finished, header, space, seconds + time.monotonic() - started),
        findings=(
            *findings, *plan.findings, *measured, *findings_about_quality(found, plan.aim),
            *findings_about_metadata(carried), *_said_of(known),
        ),
        captured=carried.captured,
        about=carried.about,
        shown=shown,
        standing=None if known is None else known.path,
    )  # fmt: skip


def _said_of(known: Recognised | None) -> tuple[Said, ...]:
    """Return what is said of a file that stood already: how it was recognised."""
    if known is None:
        return ()
    if known.likeness is None:
        return (say(Note.RECOGNISED),)
    return (say(Doubt.RECOGNISED_ALIKE, ssim=f"{known.likeness:.4f}"),)
