"""What ``trace`` prints of one original."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from lanternslide.cli.indent import indented
from lanternslide.daemon.fates import Fate, Foreseen, Intended
from lanternslide.daemon.tracing import Tracer
from lanternslide.records import Mask, Recipe, Routing, Traced, TracedPlan, shown_path, shown_text
from lanternslide.words import readable_bytes, readable_memory

__all__ = ["print_foreseen", "reason_of"]

LABEL_COLUMNS = len("Would be held")

Line = tuple[str, str]
"""A label and what stands beside it; without a label it goes on from the line above."""

SO_FAR = {
    Fate.NEW: "New: it would be made for the first time.",
    Fate.CHANGED: "Exported again: it would be made anew, unless its bytes are the same as before.",
    Fate.WAITS: "Seen before and not finished: what is left would be made.",
    Fate.DONE: "Done: nothing would be made.",
    Fate.WITHDRAWN: "Taken back: nothing is made until it is exported again or `lanternslide retry` names it.",
    Fate.MOVING: "It is being written at this moment. Ask again once it is whole.",
}
RENAMED = "Known as {known}: it would take that one's place. What is delivered already stays if its bytes are the same."
OUTDATED = "Gives way: {newer} differs only in tags and is newer, so that one is the picture."
WHY = {"tag": "its name says @{name}", "folder": "it lies in the folder {name}", "otherwise": "`otherwise` says so"}
FAILED = (
    "Looking at it failed ({detail}). The service would try so often as the config says (`attempts`), and then hold it."
)
PIXELS = "Whether its pixels are whole shows only when they are decoded; for this, nothing but the header was read."

COLOUR = {
    "4:4:4": "colours at full size (4:4:4)",
    "4:2:2": "colours at half the width (4:2:2)",
    "4:2:0": "colours at half the width and height (4:2:0)",
}
METADATA = {"whole": "all that is not about the file", "rights": "rights data and texts only", "bare": "none"}


def print_foreseen(item: Foreseen, intended: Iterable[Intended], tracer: Tracer, console: Console) -> None:
    """Print what would be done with one original, and why."""
    console.print(Text(shown_path(item.file.relative), style="bold"))
    _print_lines(console, _about(item, tracer))
    for delivery in intended:
        plan = delivery.plan
        times = "" if plan.density == 1 else f" @{plan.density:g}x"
        title = f"{plan.destination}{times}: {plan.width} × {plan.height} pixels"
        console.print()
        console.print(Text(title, style="bold"))
        assert item.traced is not None
        _print_lines(console, _of_delivery(item, item.traced, delivery))
    if item.traced is not None and item.is_made:
        console.print()
        console.print(Text(PIXELS))


def reason_of(item: Foreseen) -> str:
    """Return why an original would be held or wait."""
    return FAILED.format(detail=item.failure) if item.said is None else item.said.text


def _print_lines(console: Console, lines: Iterable[Line]) -> None:
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(min_width=LABEL_COLUMNS, no_wrap=True)
    table.add_column(overflow="fold")
    for label, text in lines:
        table.add_row(Text(label), Text(text))
    console.print(indented(table, 2))


# The original


def _about(item: Foreseen, tracer: Tracer) -> Iterator[Line]:
    yield "Of", f"{item.file.photographer}, whose drop folder is {shown_path(item.file.drop)}"
    if item.routing is not None:
        yield from _labelled("Goes to", _places(item.routing))
    if item.traced is not None:
        yield "Original", _original(item.traced)
    yield from _so_far(item)
    if item.traced is not None:
        room = tracer.room
        need, budget = readable_memory(room.needed_for(item.traced.need_mib)), readable_memory(room.budget)
        if math.isinf(room.budget):  # a cluster's workers have their own
            yield "Memory", f"about {readable_memory(item.traced.need_mib)} for the worker that makes it"
        else:
            yield "Memory", f"about {need} for all workers while one makes it, of {budget} (`memory`)"
    yield from _labelled("Doubtful", [doubt.text for doubt in tracer.doubts_of(item)])


def _labelled(label: str, texts: Iterable[str]) -> Iterator[Line]:
    for number, text in enumerate(texts):
        yield "" if number else label, text


def _places(routing: Routing) -> Iterator[str]:
    for number, destination in enumerate(routing.destinations):
        name = routing.named_by[number] if routing.named_by else ""
        yield f"{destination}, because {WHY[routing.why].format(name=shown_text(name))}"


def _original(traced: Traced) -> str:
    profile = f"profile “{shown_text(traced.profile)}”" if traced.profile else "no profile of its own in use"
    return (
        f"{traced.kind}, {traced.width} × {traced.height} pixels "
        f"({traced.width * traced.height / 1e6:.1f} megapixels), {traced.bits} bits, {profile}"
    )


def _so_far(item: Foreseen) -> Iterator[Line]:
    match item.fate:
        case Fate.HELD:
            is_held = item.row is not None and item.row.reason == reason_of(item)
            yield "Is held" if is_held else "Would be held", reason_of(item)
        case Fate.STALLED:
            yield "Would wait", reason_of(item)
        case Fate.OUTDATED:
            yield "So far", OUTDATED.format(newer=shown_path(item.newer or Path()))
        case Fate.NEW if item.row is not None:
            yield "So far", RENAMED.format(known=shown_path(item.row.path))
        case fate:
            yield "So far", SO_FAR[fate]


# One delivery


def _of_delivery(item: Foreseen, traced: Traced, delivery: Intended) -> Iterator[Line]:
    plan = delivery.plan
    yield "Way", _way(plan, max(traced.width, traced.height))
    yield from _labelled("Sharpening", _sharpening(plan, delivery.recipe))
    yield from _labelled("Tones", _tones(delivery.recipe))
    if delivery.recipe.mark is not None:
        yield "Watermark", f"{delivery.recipe.mark.corner}, {delivery.recipe.mark.height:.0%} of the short edge high"
    yield "JPEG", f"{_quality(delivery.recipe)}, {COLOUR[plan.chroma]}{', progressive' if plan.progressive else ''}"
    place = "the location too" if delivery.recipe.keep_location else "without the location"
    kept = METADATA[delivery.recipe.metadata]
    yield "Metadata", kept if delivery.recipe.metadata == "bare" else f"{kept}, {place}"
    yield from _file(item, delivery)
    doubts = [doubt.text for doubt in plan.doubts]
    yield from _labelled("Doubtful", doubts)


def _quality(recipe: Recipe) -> str:
    if recipe.quality is None:
        asked = f"the least quality, from {recipe.min_quality} on, that keeps a likeness of {recipe.min_ssim:g}"
    else:
        asked = f"quality {recipe.quality}"
    if recipe.max_bytes is None:
        return asked
    return f"{asked}, lowered to {recipe.min_quality} at the least to stay under {readable_bytes(recipe.max_bytes)}"


def _way(plan: TracedPlan, longest: int) -> str:
    edges = [max(rung) for rung in plan.rungs]
    if plan.rungs == ((plan.width, plan.height),) and edges[0] == longest and not plan.enlarged:
        return f"it keeps its {longest} pixels (long edge); nothing is resized"
    way = f"from {longest} to {' to '.join(map(str, edges))} pixels (long edge)"
    steps = "one step" if len(edges) == 1 else f"{len(edges)} steps"
    if plan.enlarged:
        limit = "enlarged, held to what lies linearly between the pixels"
    else:
        limit = "held to the area average around each pixel"
    return f"{way} in {steps}, in linear light; cubic (R. G. Keys, 1981), {limit}"


def _sharpening(plan: TracedPlan, recipe: Recipe) -> Iterator[str]:
    asked = recipe.sharpening
    if not asked.strength:
        yield "none, as the config says"
        return
    if not plan.strength:
        yield "none, because it is not reduced and has lost nothing"
        return
    strength = f", at strength {plan.strength:g}"
    for number, rung in enumerate(plan.rungs):
        is_last = number == len(plan.rungs) - 1
        mask = asked.finish if is_last else asked.lead
        where = f"at {max(rung)} pixels: " if len(plan.rungs) > 1 else ""
        if mask is not None:
            yield f"{where}your numbers, {_numbers(mask)}{strength}"
        elif is_last:
            yield (
                f"{where}automatic{strength}: edges {plan.acutance:g} times as steep as the plain reduction leaves "
                "them, as far as the limits on halos allow"
            )
        else:
            yield f"{where}automatic, a fixed part{strength}"


def _numbers(mask: Mask) -> str:
    return f"radius {mask.radius:g}, amount {mask.amount:g} per cent, blend {mask.blend:g}"


def _tones(recipe: Recipe) -> Iterator[str]:
    if recipe.brightness or recipe.contrast:
        yield f"brightness {recipe.brightness:+g} L*, contrast {recipe.contrast:+g} per cent"


def _file(item: Foreseen, delivery: Intended) -> Iterator[Line]:
    if delivery.stalled is not None:
        yield "Would wait", delivery.stalled.text
    elif delivery.path is not None:
        yield "File", shown_path(delivery.path)
    if delivery.taken is not None:
        yield "", f"The name {shown_path(Path(delivery.taken))} is taken by a file that is not this picture's own."
    if delivery.day_of_file is not None and item.is_made:
        yield (
            "",
            (
                f"The day of capture was not looked up for this: {delivery.day_of_file} in the name is the file's. It "
                "counts only if the picture does not say when it was taken."
            ),
        )
    yield from _labelled("So far", _state(item, delivery))


def _state(item: Foreseen, delivery: Intended) -> Iterator[str]:
    if delivery.state == "withdrawn":
        yield "Taken back."
    if item.fate is Fate.DONE and delivery.state is None:
        yield "Not made: it was not asked for then. `lanternslide sweep --again` makes it."
    elif item.fate is Fate.WAITS and delivery.state == "delivered":
        yield "Delivered already; it stays."
    elif item.fate is Fate.DONE and delivery.state == "delivered" and delivery.is_other_recipe:
        yield "Delivered as the config was then, not as above; `lanternslide sweep --again` makes it anew."
    elif item.fate is Fate.DONE and delivery.state == "delivered":
        yield "Delivered."
