"""Making a ring-around: one decode, every variant, one labelled sheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from lanternslide.chain import Plan, Rendering, decode, measure, plan_deliveries
from lanternslide.chain.memory import estimated_mib
from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.colour.working_space import working_space
from lanternslide.imaging.encode import decode_again
from lanternslide.imaging.measuring.closeup import Box, box_around, sharpest
from lanternslide.imaging.measuring.details import Detail, draw_details
from lanternslide.imaging.measuring.ssim import ssim
from lanternslide.imaging.reading.read import read_header
from lanternslide.imaging.reading.source import Header
from lanternslide.imaging.recompress import recompressed, sized
from lanternslide.imaging.types import Bytes8
from lanternslide.imaging.watermark import draw_watermark
from lanternslide.records import Changed, DeliveryTask, Recipe, Recompression, Refused, SizeRule, Stalled, shown_path
from lanternslide.records.record import ForecastFigures, Halo
from lanternslide.records.ring import RingCell, Ringed, RingTask, RingVariant
from lanternslide.storage.files import write_temporary
from lanternslide.words import Command, Held, readable_bytes, readable_memory, say
from lanternslide.worker.encoding import encoded, wishes_of
from lanternslide.worker.findings import findings_of
from lanternslide.worker.memory import bounded
from lanternslide.worker.original import answer_of, opened
from lanternslide.worker.survey import check_size

__all__ = ["ring"]

CELL = (240, 320)
"""Height and width of a detail, pixels."""

NOW, EXACTLY = "today's delivery, compressed again there", "one of exactly that size, compressed again"
"""What an operator's second compression leaves of which delivery."""

MIDDLE_GREY = 119


@dataclass(frozen=True, kw_only=True, slots=True)
class _Shown:
    """One picture of the ring-around, once it is made."""

    rendering: Rendering
    jpeg: bytes
    quality: int
    seen: Bytes8


def ring(task: RingTask) -> Ringed | Refused | Stalled | Changed:
    """Make the ring-around; return what is on it, why the original is refused or stalled, or that it has changed."""
    return answer_of(partial(_ring, task))


def _ring(task: RingTask) -> Ringed | Refused:
    with opened(task.root, task.path, task.fingerprint) as original:
        header = read_header(original.path)
        check_size(header, task.max_megapixels)
        plans = _plans(task, header)
        x, y = task.at or (0, 0)
        width, height = plans[0].width, plans[0].height
        if x >= width or y >= height:
            return Refused(said=say(Command.OUTSIDE_PICTURE, x=x, y=y, width=width, height=height))
        need = estimated_mib(header, plans)
        if need > task.most_mib:
            raise OriginalHeldError(
                Held.NEEDS_MORE_MEMORY, need=readable_memory(need), budget=readable_memory(task.most_mib)
            )
        with bounded(need):
            return _made(task, header, plans)


def _variants(task: RingTask) -> list[RingVariant]:
    return [variant for row in task.rows for variant in row]


def _plans(task: RingTask, header: Header) -> list[Plan]:
    """Return the plan of each variant, and last that of a picture of exactly the operator's size, if there is one."""
    recipes = [replace(task.recipe, sharpening=variant.sharpening) for variant in _variants(task)]
    if task.recipe.forecast is not None:
        recipes.append(_for_operator(task.recipe, task.recipe.forecast))
    plans: list[Plan] = []
    for number, recipe in enumerate(recipes):
        asked = DeliveryTask(delivery=number, destination="", density=1, recipe=recipe, temporary=Path())
        plans += plan_deliveries([asked], header.width, header.height)[0]
    return plans


def _for_operator(recipe: Recipe, recompression: Recompression) -> Recipe:
    size = SizeRule(rule="long_edge", values=(recompression.long_edge,))
    return replace(recipe, size=size)


def _made(task: RingTask, header: Header, plans: list[Plan]) -> Ringed:
    space = working_space(header)
    ways, found = decode(header, space, plans)
    rows = iter(_variants(task))
    box: Box | None = None
    exact: _Shown | None = None
    own: _Shown | None = None
    cells: list[tuple[RingCell, Detail]] = []
    drawn = None if task.recipe.mark is None else draw_watermark(task.recipe.mark)
    while ways:
        shown = _shown(ways.pop(0).finish(drawn), header, task.recipe)
        variant = next(rows, None)
        if variant is None:
            exact = shown
            break
        box = box or _box(task, shown.rendering)
        cells.append(_cell(variant, shown, box))
        own = shown if variant.is_own else own
    assert box is not None
    table = _in_rows(task, cells)
    recompression = task.recipe.forecast
    if recompression is not None and exact is not None and own is not None:
        table.append(list(_operators(recompression, own, exact, box)))
    title = f"{shown_path(Path(task.path.name))}, 1:1 at {box.left}, {box.top}"
    png, boxes = draw_details(title, [[detail for _, detail in row] for row in table])
    write_temporary(task.sheet, png)
    width, height = int.from_bytes(png[16:20]), int.from_bytes(png[20:24])  # IHDR (PNG, third edition, 11.2.1)
    final = plans[0]
    return Ringed(
        width=width,
        height=height,
        picture=(final.width, final.height),
        place=(box.left, box.top),
        rows=tuple(
            tuple(replace(cell, box=where) for (cell, _), where in zip(row, places, strict=True))
            for row, places in zip(table, boxes, strict=True)
        ),
        findings=(*findings_of(header, space), *found, *final.findings),
    )


def _in_rows(task: RingTask, cells: list[tuple[RingCell, Detail]]) -> list[list[tuple[RingCell, Detail]]]:
    left = iter(cells)
    return [[next(left) for _ in row] for row in task.rows]


def _box(task: RingTask, rendering: Rendering) -> Box:
    if task.at is None:
        return sharpest(rendering.reference, *CELL)
    return box_around(*task.at, CELL, (rendering.plan.height, rendering.plan.width))


def _shown(rendering: Rendering, header: Header, recipe: Recipe) -> _Shown:
    """Return a rendering as it would be delivered."""
    plan = rendering.plan
    chosen = encoded(rendering, header, wishes_of(recipe, plan.width, plan.height, header)).chosen
    return _Shown(rendering=rendering, jpeg=chosen.jpeg, quality=chosen.quality, seen=decode_again(chosen.jpeg))


def _cell(variant: RingVariant, shown: _Shown, box: Box) -> tuple[RingCell, Detail]:
    evidence = measure(shown.rendering, shown.seen)
    light, dark = round(evidence.halos.light, 3), round(evidence.halos.dark, 3)
    edges = "edges too few to tell" if evidence.acutance is None else f"edges {evidence.acutance:.2f}"
    cell = RingCell(
        label=variant.label,
        is_own=variant.is_own,
        box=(0, 0, 0, 0),
        sharpening=variant.sharpening,
        acutance=None if evidence.acutance is None else round(evidence.acutance, 3),
        halo=Halo(light=light, dark=dark),
        bytes=len(shown.jpeg),
        quality=shown.quality,
    )
    first = f"{variant.label} (as configured)" if variant.is_own else variant.label
    file = f"quality {shown.quality}, {readable_bytes(len(shown.jpeg))}"
    lines = (first, f"{edges}, halos {light:.1f} light, {dark:.1f} dark", file)
    return cell, Detail(codes=shown.seen[box.rows, box.columns], lines=lines, is_framed=variant.is_own)


def _operators(recompression: Recompression, own: _Shown, exact: _Shown, box: Box) -> Iterator[tuple[RingCell, Detail]]:
    """Yield what the operator leaves of the delivery as it is, and of one that has exactly the operator's size.

    Both are compared with the finished picture of that size. A delivery that is smaller stays as it is there, and is
    compared with itself.
    """
    finished = exact.rendering.codes
    for label, upload in ((NOW, own), (EXACTLY, exact)):
        again = recompressed(upload.jpeg, recompression.long_edge, recompression.quality, recompression.chroma)
        seen = decode_again(again)
        # Where the operator's size is rounded otherwise, the delivery's own picture is sized to it.
        height, width = seen.shape[:2]
        plain = finished if seen.shape == finished.shape else sized(upload.rendering.codes, width, height)
        likeness = ssim(plain, seen)
        told = "" if likeness is None else f"likeness {likeness:.4f}, "
        cell = RingCell(
            label=label,
            is_own=False,
            box=(0, 0, 0, 0),
            sharpening=None,
            bytes=len(upload.jpeg),
            quality=upload.quality,
            left=ForecastFigures(ssim=None if likeness is None else round(likeness, 5), bytes=len(again)),
            size=(seen.shape[1], seen.shape[0]),
        )
        yield cell, Detail(codes=_same_part(seen, own, box), lines=(label, f"{told}{readable_bytes(len(again))}"))


def _same_part(seen: Bytes8, own: _Shown, box: Box) -> Bytes8:
    """Return the detail of the size of *box* that shows in a picture of another size what it shows in the delivery."""
    scale = seen.shape[1] / own.seen.shape[1]
    x, y = (round((start + span / 2) * scale) for start, span in ((box.left, box.width), (box.top, box.height)))
    part = box_around(x, y, (box.height, box.width), seen.shape[:2])
    detail = np.full((box.height, box.width, 3), MIDDLE_GREY, np.uint8)
    detail[: part.height, : part.width] = seen[part.rows, part.columns]
    return detail
