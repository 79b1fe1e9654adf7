"""A ring-around: which variants, and having a worker make them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from queue import SimpleQueue

from lanternslide.config import Settings, recipe_of
from lanternslide.config.limits import Limits
from lanternslide.errors import WorkersError
from lanternslide.records import DroppedFile, Sharpening
from lanternslide.records.ring import RingTask, RingVariant
from lanternslide.workers.executor import Answer, ExecutorBroken, News, Order, post
from lanternslide.workers.pool import Pool

__all__ = ["config_line", "ring_around", "variants_of"]

APART = (-0.5, -0.25, 0.0, 0.25, 0.5)
"""How far the strengths lie from the destination's."""

MOST_STRENGTH = 2.0
RUNG_RATIO = 2.0


def variants_of(sharpening: Sharpening) -> tuple[tuple[RingVariant, ...], ...]:
    """Return the rows of a ring-around for a destination: in one step, and over a rung of twice the size.

    Strengths lie below and above the destination's. Where its own passes are an owner's numbers, they stand in a row of
    their own: other strengths of them.
    """
    if not sharpening.strength:
        sharpening = Sharpening(strength=0.0)
    middle = sharpening.strength or 1.0
    around = [min(max(middle + apart, 0.0), MOST_STRENGTH) for apart in APART]
    strengths = sorted({*around, sharpening.strength})
    plain = Sharpening(strength=middle)
    rows = [
        tuple(_variant(replace(plain, strength=strength), "in one step", sharpening) for strength in strengths),
        tuple(
            _variant(replace(plain, strength=strength, steps=2, ratio=RUNG_RATIO), "in two steps", sharpening)
            for strength in strengths
            if strength
        ),
    ]
    if not any(variant.is_own for row in rows for variant in row):
        own = [replace(sharpening, strength=strength) for strength in strengths]
        rows.insert(0, tuple(_variant(how, "by your numbers", sharpening) for how in own))
    return tuple(rows)


def _variant(how: Sharpening, way: str, own: Sharpening) -> RingVariant:
    label = f"strength {how.strength:g}, {way}" if how.strength else "no sharpening"
    return RingVariant(sharpening=how, label=label, is_own=how == own)


def config_line(how: Sharpening) -> str:
    """Return the line of the config that chooses a way of sharpening."""
    if not how.strength:
        return "sharpen = false"
    if how == Sharpening():
        return 'sharpen = "auto"'
    parts = [f"strength = {how.strength:g}"]
    if how.steps > 1:
        parts += [f"steps = {how.steps}", f"ratio = {how.ratio:g}"]
    for name, mask in (("lead", how.lead), ("finish", how.finish)):
        if mask is not None:
            numbers = f"radius = {mask.radius:g}, amount = {mask.amount:g}, blend = {mask.blend:g}"
            parts.append(f"{name} = {{ {numbers} }}")
    return f"sharpen = {{ {', '.join(parts)} }}"


def ring_around(
    settings: Settings, file: DroppedFile, destination: str, at: tuple[int, int] | None, sheet: Path
) -> Answer:
    """Have a worker make a ring-around of an original and write it to *sheet*; return what it answers.

    Raises
    ------
    WorkersError
        If no worker can be started.
    """
    limits = Limits.of(settings.service)
    owner = settings.photographers[file.photographer]
    recipe = recipe_of(settings.destination_for(file.photographer, destination), owner)
    task = RingTask(
        root=file.root,
        path=file.path,
        fingerprint=file.fingerprint,
        recipe=recipe,
        rows=variants_of(recipe.sharpening),
        at=at,
        most_mib=limits.memory_mib,
        max_megapixels=limits.max_megapixels,
        sheet=sheet,
    )
    answers: SimpleQueue[Answer | News] = SimpleQueue()
    pool = Pool(1, answers.put)
    try:
        timeout = limits.make_timeout(limits.max_megapixels, 1)
        order = Order(key=(file.photographer, file.relative), task=task, timeout=timeout)
        post(pool.submit(order), answers.put)
        return next(_only_answers(answers))
    finally:
        pool.close()


def _only_answers(answers: SimpleQueue[Answer | News]) -> Iterator[Answer]:
    while True:
        match answers.get():
            case Answer() as answer:
                yield answer
            case ExecutorBroken(said=said):
                raise WorkersError(said)
            case _:  # it has mended itself
                pass
