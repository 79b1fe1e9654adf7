"""``lanternslide status``."""

from __future__ import annotations

import os
import sys

import click
from rich.console import Console
from rich.text import Text

from lanternslide.cli.options import photographer_option
from lanternslide.cli.output.indent import indented
from lanternslide.cli.output.summary import PIPE_WIDTH
from lanternslide.cli.session import Named, open_settings, refuse_divided, state_folder
from lanternslide.config import Settings
from lanternslide.errors import ExitStatus
from lanternslide.intake import count_others
from lanternslide.ledger import Ledger, OriginalRow, OriginalState, holder_of
from lanternslide.records import shown_path
from lanternslide.requests import slots_known
from lanternslide.storage.probe import Probe
from lanternslide.words import Command, counted, readable_duration, say, told

__all__ = ["status"]

MOST_NAMED = 20


@click.command()
@photographer_option
@click.pass_obj
def status(named: Named) -> int:
    """Say what runs, what waits, and what is held and why.

    Also lists what is published but no longer asked for, and counts files that are not pictures.

    Changes: nothing.

    While the service runs: works the same, and says that it runs.

    Exit status: 3 if no service runs; otherwise 1 if something is held.
    """
    settings = open_settings(named)
    folder = state_folder(settings, os.environ)
    console = Console(file=sys.stdout, width=None if sys.stdout.isatty() else PIPE_WIDTH, highlight=False)
    refuse_divided(settings, folder)
    ledger = Ledger.to_read(folder)  # a folder that is closed to this user is said here
    holder = holder_of(folder)
    console.print(f"{holder} is at work." if holder else "No service is running.", markup=False)
    held = 0
    if ledger is None:
        console.print("Nothing was done with this state folder yet.")
    else:
        with ledger:
            held = _print_ledger(settings, ledger, console)
    _print_others(settings, console)
    return ExitStatus.WAITS if holder is None else ExitStatus.HELD if held else ExitStatus.DONE


def _print_ledger(settings: Settings, ledger: Ledger, console: Console) -> int:
    counts = ledger.reading.counts()
    for name in settings.photographers:
        parts = [f"{counts[name, state]} {state.value}" for state in OriginalState if counts.get((name, state))]
        console.print(f"{name}: {', '.join(parts) or 'nothing yet'}", markup=False)
    number, still = _first_in(ledger, settings, OriginalState.WORKING, OriginalState.WAITING)
    _section(console, "Waiting:", number, [(row.shown, "") for row in still])
    _print_older(settings, ledger, console)
    held, rows = _first_in(ledger, settings, OriginalState.HELD)
    _section(console, "Held, until you act:", held, [(row.shown, row.reason or "") for row in rows])
    number, left = ledger.reading.unwanted(settings.photographers, MOST_NAMED)
    title = "Published, but no longer asked for. Remove with `lanternslide withdraw PATH --destination NAME`:"
    items = [(f"{row.photographer}: {shown_path(row.original)}", shown_path(row.stands)) for row in left]
    _section(console, title, number, items)
    return held


def _print_older(settings: Settings, ledger: Ledger, console: Console) -> None:
    """Say how much is still to be remade, and how long that takes."""
    pictures, seconds = ledger.older.left(settings.photographers)
    if not pictures:
        return
    said = say(Command.OLDER_LEFT, pictures=pictures)
    if seconds is not None:
        duration = readable_duration(seconds / slots_known(settings, ledger))
        said = say(Command.OLDER_LEFT_FOR, pictures=pictures, time=duration)
    console.print(f"\n{said.text}", markup=False)


def _first_in(ledger: Ledger, settings: Settings, *states: OriginalState) -> tuple[int, list[OriginalRow]]:
    """Return how many originals are in these states, and the first of them."""
    counts = ledger.reading.counts()
    number = sum(counts.get((name, state), 0) for name in settings.photographers for state in states)
    rows = [row for state in states for row in ledger.reading.first_in(state, settings.photographers, MOST_NAMED)]
    return number, rows[:MOST_NAMED]


def _section(console: Console, title: str, number: int, items: list[tuple[str, str]]) -> None:
    """Print the first *items* of a *number*."""
    if not items:
        return
    console.print(f"\n{title}", markup=False)
    for name, text in items:
        console.print(indented(Text(name, style="bold"), 2))
        if text:
            console.print(indented(Text(text), 4))
    if number > len(items):
        console.print(f"  and {number - len(items)} more")


def _print_others(settings: Settings, console: Console) -> None:
    """Say how many files of other kinds lie in the drop folders; they are left alone."""
    probe = Probe()
    for name, owner in settings.photographers.items():
        if not probe.answers(owner.drop):
            console.print(f"{name}: the drop folder does not answer.", markup=False)
            continue
        try:
            others = count_others(owner.drop)
        except OSError as error:
            console.print(f"{name}: the drop folder cannot be listed ({told(error)}).", markup=False)
        else:
            if others:
                kinds = counted(others, "file of another kind", "files of other kinds")
                console.print(f"{name}: {kinds} in the drop folder, left alone.", markup=False)
