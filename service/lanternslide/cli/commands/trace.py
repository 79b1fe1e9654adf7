"""``lanternslide trace``."""

from __future__ import annotations

import math
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import click
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
from rich.text import Text

from lanternslide.cli.absolute import absolute
from lanternslide.cli.options import photographer_option
from lanternslide.cli.output.foreseen import print_foreseen, reason_of
from lanternslide.cli.output.indent import indented
from lanternslide.cli.session import Named, ledger_to_read, open_settings
from lanternslide.config import Settings
from lanternslide.errors import ExitStatus, PassingFaultError
from lanternslide.preview import Asked, Foreseen, Prediction, Tracer
from lanternslide.records import shown_path
from lanternslide.words import counted, readable_memory, told

__all__ = ["trace"]

COLUMNS = 80
"""What is said is read in lines of this length, also where a terminal is wider."""
MOST_NAMED = 20

NOT_MADE = {
    Prediction.DONE: "done already",
    Prediction.WITHDRAWN: "withdrawn",
    Prediction.OUTDATED: "older than a file that differs only in tags",
    Prediction.MOVING: "still being written",
}


@click.command()
# click.Path would look at what it is given, and wait for a share that hangs.
@click.argument("path", type=Path)
@photographer_option
@click.pass_obj
def trace(named: Named, path: Path) -> int:
    """Say what would happen to an original, and why.

    PATH is an original in a drop folder, or a folder of originals; for a folder it prints totals. It reads only
    headers, so it cannot see damage further into the file.

    Changes: nothing.

    While the service runs: works the same.

    Exit status: 1 if something would be held; 3 if something would wait.
    """
    settings = open_settings(named)
    console = Console(file=sys.stdout, highlight=False)
    console.width = min(console.width, COLUMNS)
    with ledger_to_read(settings) as ledger:
        tracer = Tracer(settings, ledger)
        try:
            asked = tracer.look_at(Path(absolute(path)))
            items = tracer.foresee(asked)
            if asked.is_folder:
                return _trace_folder(settings, tracer, asked, items, console)
            return _trace_file(tracer, asked, items, console)
        except PassingFaultError as fault:
            console.print(Text(fault.said.text))
            return ExitStatus.WAITS


def _trace_file(tracer: Tracer, asked: Asked, items: list[Foreseen], console: Console) -> int:
    if not items:
        console.print(Text(shown_path(asked.path), style="bold"))
        text = "Left alone: lanternslide takes JPEG, TIFF, PNG and WebP, but no links, hidden or temporary files."
        console.print(indented(Text(text), 2))
        return ExitStatus.DONE
    item = items[0]
    if item.routing is not None and item.prediction is not Prediction.OUTDATED:
        (item,) = tracer.read(items, 1)
    intended = tracer.intended(item)
    print_foreseen(item, intended, tracer, console)
    if item.prediction is Prediction.STALLED or any(delivery.stalled for delivery in intended):
        return ExitStatus.WAITS
    return ExitStatus.HELD if item.prediction is Prediction.HELD else ExitStatus.DONE


def _trace_folder(settings: Settings, tracer: Tracer, asked: Asked, items: list[Foreseen], console: Console) -> int:
    ended = [item for item in items if not item.is_made]
    read = _read(tracer, [item for item in items if item.is_made])
    found = sorted((*ended, *read), key=lambda item: item.file.relative)
    console.print(Text(shown_path(asked.path), style="bold"))
    _line(console, f"{counted(len(items), 'picture', 'pictures')} of {asked.photographer}")
    _print_made(settings, tracer, found, console)
    for prediction, what in NOT_MADE.items():
        number = sum(item.prediction is prediction for item in found)
        if number:
            _line(console, f"{number} {what}")
    if asked.others:
        _line(console, f"{counted(asked.others, 'file of another kind', 'files of other kinds')}, left alone")
    _print_memory(tracer, found, console)
    held = [(item.file.relative, reason_of(item)) for item in found if item.prediction is Prediction.HELD]
    waiting = [(item.file.relative, reason_of(item)) for item in found if item.prediction is Prediction.STALLED]
    closed = [(folder, f"It cannot be listed ({told(error)}).") for folder, error in asked.closed.items()]
    _print_named("would be held", held, console)
    _print_named("would wait", [*waiting, *closed], console)
    return ExitStatus.WAITS if waiting or closed else ExitStatus.HELD if held else ExitStatus.DONE


def _read(tracer: Tracer, items: list[Foreseen]) -> list[Foreseen]:
    """Return what is foreseen of *items* once their headers are read; with a bar on a terminal."""
    console = Console(stderr=True)
    columns = TextColumn("Headers read"), BarColumn(), MofNCompleteColumn()
    with Progress(*columns, console=console, transient=True, disable=not sys.stderr.isatty()) as progress:
        return list(progress.track(tracer.read(items, tracer.limits.workers), total=len(items)))


def _line(console: Console, text: str) -> None:
    console.print(indented(Text(text), 2))


def _print_made(settings: Settings, tracer: Tracer, found: Iterable[Foreseen], console: Console) -> None:
    made: Counter[Prediction] = Counter()
    deliveries: Counter[str] = Counter()
    for item in found:
        if item.is_made:
            made[item.prediction] += 1
            deliveries.update(plan.destination for plan in tracer.still_to_make(item))
    again = f", {made[Prediction.CHANGED]} of them exported again" if made[Prediction.CHANGED] else ""
    _line(console, f"{made.total()} would be made{again}: {counted(deliveries.total(), 'delivery', 'deliveries')}")
    width = max(map(len, settings.destinations))
    for name in settings.destinations:
        if deliveries[name]:
            _line(console, f"  {name:{width}s}  {deliveries[name]:6d}")


def _print_memory(tracer: Tracer, found: Iterable[Foreseen], console: Console) -> None:
    needs = [(item.traced.need_mib, item.file.relative) for item in found if item.traced is not None]
    if needs:
        need, path = max(needs)
        _line(console, f"The most memory is for {shown_path(path)}: about {_memory(tracer, need)}")


def _memory(tracer: Tracer, need: float) -> str:
    """Return how much memory is needed of how much there is; what a cluster's workers have is not asked."""
    memory = tracer.memory
    if math.isinf(memory.budget):
        return f"{readable_memory(need)} for one worker"
    return f"{readable_memory(memory.needed_for(need))} of {readable_memory(memory.budget)}"


def _print_named(what: str, items: list[tuple[Path, str]], console: Console) -> None:
    if not items:
        return
    console.print()
    console.print(Text(f"{len(items)} {what}:"))
    for path, reason in items[:MOST_NAMED]:
        console.print(indented(Text(shown_path(path), style="bold"), 2))
        console.print(indented(Text(reason), 4))
    if len(items) > MOST_NAMED:
        console.print(f"  and {len(items) - MOST_NAMED} more")
