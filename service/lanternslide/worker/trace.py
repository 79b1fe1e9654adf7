"""Saying what would be done with an original: its header is read, and nothing is decoded or written."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from lanternslide.chain import Plan, plan_deliveries
from lanternslide.imaging.colour.working_space import working_space
from lanternslide.imaging.reading.read import read_header
from lanternslide.imaging.reading.source import Header
from lanternslide.records import Changed, DeliveryTask, Refused, Stalled, Traced, TracedPlan, TraceTask
from lanternslide.worker.findings import findings_of
from lanternslide.worker.memory import bounded
from lanternslide.worker.original import answer_of, opened
from lanternslide.worker.survey import check_bytes, check_size, needed_mib

__all__ = ["trace"]

RESERVED_MIB = 1024
"""What libvips reserves, and does not use, when it opens the largest WebP: 4 bytes for each of 16,383 × 16,383 pixels
(RFC 9649, from memory)."""


def trace(task: TraceTask) -> Traced | Refused | Stalled | Changed:
    """Return what would be done with an original, why it is refused or stalled, or that it has changed.

    A header takes next to no memory; more than libraries reserve is not given.
    """
    return answer_of(partial(_trace, task))


def _trace(task: TraceTask) -> Traced:
    survey = task.survey
    with bounded(RESERVED_MIB):
        with opened(survey.root, survey.path, survey.fingerprint) as original:
            header = read_header(original.path)
        check_size(header, survey.max_megapixels)
        check_bytes(header, survey.fingerprint.size)
        return _traced(header, task)


def _traced(header: Header, task: TraceTask) -> Traced:
    tasks = [
        DeliveryTask(delivery=number, destination=name, density=density, recipe=recipe, temporary=Path())
        for number, (name, (recipe, density)) in enumerate(zip(task.destinations, task.survey.wanted, strict=True))
    ]
    plans, left_out = plan_deliveries(tasks, header.width, header.height)
    space = working_space(header)
    return Traced(
        width=header.width,
        height=header.height,
        bits=header.bits,
        kind=header.kind,
        profile=space.label,
        need_mib=needed_mib(header, task.survey.wanted),
        plans=tuple(_plan(plan, tasks[plan.delivery]) for plan in sorted(plans, key=lambda plan: plan.delivery)),
        left_out=tuple((tasks[number].destination, tasks[number].density) for number in left_out),
        findings=findings_of(header, space),
    )


def _plan(plan: Plan, task: DeliveryTask) -> TracedPlan:
    return TracedPlan(
        destination=task.destination,
        density=task.density,
        rungs=tuple((rung.width, rung.height) for rung in plan.rungs),
        enlarged=plan.enlarged,
        strength=plan.strength,
        acutance=plan.acutance,
        chroma=plan.chroma,
        progressive=plan.progressive,
        findings=plan.findings,
    )
