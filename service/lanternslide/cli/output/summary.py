"""The summary of a sweep, for a person."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TextIO

from rich.console import Console
from rich.text import Text

from lanternslide.cli.output.batch_table import print_figures
from lanternslide.cli.output.indent import indented
from lanternslide.config import Settings
from lanternslide.ledger import OriginalRow
from lanternslide.records import shown_path
from lanternslide.report import Batch, by_kind

__all__ = ["print_summary"]

MOST_NAMED, MOST_NOTED = 12, 3
"""Originals that are named with one text, and with one note; of more, a note says how many."""

PIPE_WIDTH = 100
"""Columns where there is no terminal to ask."""


def print_summary(settings: Settings, batch: Batch, held: Sequence[OriginalRow], stream: TextIO) -> None:
    """Print what was delivered where, what is good to know and what is doubtful, what waits and what is held."""
    console = Console(file=stream, width=None if stream.isatty() else PIPE_WIDTH, highlight=False)
    print_figures(console, batch, settings.destinations)
    for folder in _folders(settings, batch):
        console.print(f"  {shown_path(folder)}", soft_wrap=True, markup=False)
    _section(console, "Good to know:", _by_original(batch.notes), MOST_NOTED)
    _section(console, "Delivered, with doubts:", _by_original(batch.doubts))
    _section(console, "Waiting; fix the cause, then sweep again:", _by_text(batch.waits.items()))
    reasons = [(row.shown, row.reason or "") for row in held]
    _section(console, "Held, until you act:", _by_text(reasons))


def _folders(settings: Settings, batch: Batch) -> list[Path]:
    """Return the folders of the destinations that were delivered to, once each, as their owners know them."""
    found = {
        Path(os.path.normpath(settings.destination_for(owner, name).folder_for(owner)))
        for name in batch.destinations
        for owner in settings.photographers
        if name in settings.destinations_of(owner)
    }
    return sorted(folder for folder in found if _holds_something(folder))


def _holds_something(folder: Path) -> bool:
    """Return whether something lies in a folder, as far as this user may see."""
    try:
        return any(folder.iterdir())
    except PermissionError:
        return True
    except OSError:  # it is not there any more
        return False


def _by_text(items: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """Return what each text is said of."""
    grouped: dict[str, list[str]] = {}
    for what, text in items:
        grouped.setdefault(text, []).append(what)
    return grouped


def _by_original(said: Iterable[tuple[str, str, str]]) -> dict[str, list[str]]:
    """Return the originals of which each text of *said* (original, destination, text) is said, with destinations."""
    found: dict[str, list[str]] = {}
    for text, those in by_kind(((original, destination), text) for original, destination, text in said):
        places: dict[str, list[str]] = {}
        for original, destination in those:
            places.setdefault(original, []).append(destination)
        found[text] = [f"{original} for {', '.join(names)}" for original, names in places.items()]
    return found


def _section(console: Console, title: str, said: dict[str, list[str]], most: int = MOST_NAMED) -> None:
    """Print each text once, with what it is said of above it."""
    if not said:
        return
    console.print(f"\n{title}")
    for text, subjects in said.items():
        if most == MOST_NOTED and len(subjects) > most:
            console.print(indented(Text(f"{len(subjects)} pictures", style="bold"), 2))
        else:
            for subject in subjects[:most]:
                console.print(indented(Text(subject, style="bold"), 2))
            if len(subjects) > most:
                console.print(indented(f"and {len(subjects) - most} more; the log names them", 2))
        console.print(indented(Text(text), 4))
