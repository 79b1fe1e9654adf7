"""What ``trace`` prints of one original."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from lanternslide.cli.output.indent import indented
from lanternslide.ledger import DeliveryState
from lanternslide.preview import Foreseen, Intended, Prediction, Tracer
from lanternslide.records import Recipe, Routing, Traced, TracedPlan, UnsharpMask, shown_path, shown_text
from lanternslide.words import Said, readable_bytes, readable_memory

__all__ = ["print_foreseen", "reason_of"]

LABEL_COLUMNS = len("Would be held")

Line = tuple[str, str]
"""A label and what stands beside it; without a label it goes on from the line above."""

SO_FAR = {
    Prediction.NEW: "New.",
    Prediction.CHANGED: "Exported again: it would be remade, unless its bytes are the same as before.",
    Prediction.WAITS: "Not finished: the rest would be made.",
    Prediction.DONE: "Done: nothing would be made.",
    Prediction.WITHDRAWN: "Withdrawn: nothing is made until you export it again or name it to `lanternslide retry`.",
    Prediction.MOVING: "It is still being written. Ask again when it is whole.",
}
RENAMED = "It would replace {known}. What is delivered already stays if the bytes are the same."
OUTDATED = "Skipped: {newer} differs only in tags and is newer."
WHY = {"tag": "its name says @{name}", "folder": "it lies in the folder {name}", "otherwise": "`otherwise` says so"}
FAILED = (
    "It could not be read ({detail}). The service would try as often as `attempts` in the config says, then hold it."
)
PIXELS = (
    "Only the header was read. Damage among the pixels, and doubts about the metadata, show when the picture is made."
)

COLOUR = {
    "4:4:4": "colours at full size (4:4:4)",
    "4:2:2": "colours at half the width (4:2:2)",
    "4:2:0": "colours at half the width and height (4:2:0)",
}
METADATA = {
    "whole": "everything but what is about the file itself",
    "rights": "rights data and texts only",
    "bare": "none",
}


def print_foreseen(item: Foreseen, intended: Iterable[Intended], tracer: Tracer, console: Console) -> None:
    """Print what would be done with one original, and why."""
    console.print(Text(shown_path(item.file.relative), style="bold"))
    _print_lines(console, _about(item, tracer))
    for delivery in intended:
        plan = delivery.plan
        times = "" if plan.density == 1 else f", {plan.density:g}x"
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
    yield "Photographer", f"{item.file.photographer}, drop folder {shown_path(item.file.drop)}"
    if item.routing is not None:
        yield from _labelled("Goes to", _places(item.routing))
    if item.traced is not None:
        yield "Original", _original(item.traced)
    yield from _so_far(item)
    if item.traced is not None:
        memory = tracer.memory
        need, budget = readable_memory(memory.needed_for(item.traced.need_mib)), readable_memory(memory.budget)
        if math.isinf(memory.budget):  # a cluster's workers have their own
            yield "Memory", f"about {readable_memory(item.traced.need_mib)} for the worker that makes it"
        else:
            yield "Memory", f"about {need}, of {budget} for all workers (`memory`)"
    yield from _findings(tracer.findings_of(item))


def _findings(findings: Iterable[Said]) -> Iterator[Line]:
    findings = tuple(findings)
    yield from _labelled("Doubtful", [said.text for said in findings if not said.is_note])
    yield from _labelled("Good to know", [said.text for said in findings if said.is_note])


def _labelled(label: str, texts: Iterable[str]) -> Iterator[Line]:
    for number, text in enumerate(texts):
        yield "" if number else label, text


def _places(routing: Routing) -> Iterator[str]:
    for number, destination in enumerate(routing.destinations):
        name = routing.named_by[number] if routing.named_by else ""
        yield f"{destination}, because {WHY[routing.why].format(name=shown_text(name))}"


def _original(traced: Traced) -> str:
    colours = shown_text(traced.profile or "")
    return (
        f"{traced.kind}, {traced.width} × {traced.height} pixels "
        f"({traced.width * traced.height / 1e6:.1f} megapixels), {traced.bits} bits, colours: {colours}"
    )


def _so_far(item: Foreseen) -> Iterator[Line]:
    match item.prediction:
        case Prediction.HELD:
            is_held = item.row is not None and item.row.reason == reason_of(item)
            yield "Is held" if is_held else "Would be held", reason_of(item)
        case Prediction.STALLED:
            yield "Would wait", reason_of(item)
        case Prediction.OUTDATED:
            yield "So far", OUTDATED.format(newer=shown_path(item.newer or Path()))
        case Prediction.NEW if item.row is not None:
            yield "So far", RENAMED.format(known=shown_path(item.row.path))
        case prediction:
            yield "So far", SO_FAR[prediction]


# One delivery


def _of_delivery(item: Foreseen, traced: Traced, delivery: Intended) -> Iterator[Line]:
    plan = delivery.plan
    yield "Way", _way(plan, max(traced.width, traced.height))
    yield from _labelled("Sharpening", _sharpening(plan, delivery.recipe))
    yield from _labelled("Tones", _tones(delivery.recipe))
    if delivery.recipe.mark is not None:
        yield "Watermark", f"{delivery.recipe.mark.corner}, {delivery.recipe.mark.height:.0%} of the short edge high"
    yield "JPEG", f"{_quality(delivery.recipe)}, {COLOUR[plan.chroma]}{', progressive' if plan.progressive else ''}"
    place = "with the location" if delivery.recipe.keep_location else "without the location"
    if delivery.recipe.metadata == "whole":
        place += ", with serial numbers" if delivery.recipe.keep_serials else ", without serial numbers"
    kept = METADATA[delivery.recipe.metadata]
    yield "Metadata", kept if delivery.recipe.metadata == "bare" else f"{kept}, {place}"
    yield from _file(item, delivery)
    yield from _findings(plan.findings)


def _quality(recipe: Recipe) -> str:
    if recipe.quality is None:
        asked = f"the lowest quality, from {recipe.min_quality} up, whose SSIM is at least {recipe.min_ssim:g}"
    else:
        asked = f"quality {recipe.quality}"
    if recipe.max_bytes is None:
        return asked
    return f"{asked}, lowered as far as {recipe.min_quality} to stay under {readable_bytes(recipe.max_bytes)}"


def _way(plan: TracedPlan, longest: int) -> str:
    edges = [max(rung) for rung in plan.rungs]
    if plan.rungs == ((plan.width, plan.height),) and edges[0] == longest and not plan.enlarged:
        return f"stays at {longest} pixels (long edge); not resized"
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
        yield "none: the config switches it off"
        return
    if not plan.strength:
        yield "none: the picture is not reduced, so it loses nothing"
        return
    strength = f", at strength {plan.strength:g}"
    for number, rung in enumerate(plan.rungs):
        is_last = number == len(plan.rungs) - 1
        mask = asked.finish if is_last else asked.lead
        where = f"at {max(rung)} pixels: " if len(plan.rungs) > 1 else ""
        if mask is not None:
            yield f"{where}your values, {_numbers(mask)}{strength}"
        elif is_last:
            yield (
                f"{where}automatic{strength}: edges {plan.acutance:g} times as steep as after plain reduction, if "
                "the halo limits allow it"
            )
        else:
            yield f"{where}automatic, fixed{strength}"


def _numbers(mask: UnsharpMask) -> str:
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
        yield "", f"Another file has the name {shown_path(Path(delivery.taken))}."
    if delivery.day_of_file is not None and item.is_made:
        yield (
            "",
            (
                f"The date of capture was not read here; {delivery.day_of_file} is the file's. The name gets the "
                "date of capture if the picture has one."
            ),
        )
    yield from _labelled("So far", _state(item, delivery))


def _state(item: Foreseen, delivery: Intended) -> Iterator[str]:
    if delivery.state == DeliveryState.WITHDRAWN:
        yield "Withdrawn."
    if item.prediction is Prediction.DONE and delivery.state is None:
        yield "Not made: the config did not ask for it then. Make it with `lanternslide sweep --again`."
    elif item.prediction is Prediction.WAITS and delivery.state == DeliveryState.DELIVERED:
        yield "Delivered already; it stays."
    elif item.prediction is Prediction.DONE and delivery.state == DeliveryState.DELIVERED and delivery.is_other_recipe:
        yield "Delivered with an earlier config. Remake it with `lanternslide sweep --again`."
    elif item.prediction is Prediction.DONE and delivery.state == DeliveryState.DELIVERED:
        yield "Delivered."
