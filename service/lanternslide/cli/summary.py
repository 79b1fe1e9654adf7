"""The summary of a sweep, for a person."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TextIO

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from lanternslide.config import Settings
from lanternslide.ledger import OriginalRow
from lanternslide.records import shown_path
from lanternslide.report import Batch, readable_bytes

__all__ = ["print_summary"]

PIPE_WIDTH = 100
"""Columns where there is no terminal to ask."""


def print_summary(settings: Settings, batch: Batch, held: Sequence[OriginalRow], stream: TextIO) -> None:
    """Print what was delivered where, what is doubtful, what waits and what is held."""
    console = Console(file=stream, width=None if stream.isatty() else PIPE_WIDTH, highlight=False)
    if batch.deliveries:
        console.print(_table(settings, batch))
        console.print(
            f"{batch.pictures} pictures, {readable_bytes(batch.bytes_in)} in; "
            f"{batch.deliveries} deliveries, {readable_bytes(batch.bytes_out)} out."
        )
    else:
        console.print("Nothing new was delivered.")
    if batch.doubts:
        console.print("\nDoubtful, but delivered:")
    for (original, doubt), places in _by_doubt(batch).items():
        _item(console, f"{original} for {', '.join(places)}", doubt)
    if batch.waits:
        console.print("\nWaiting; sweep again when it has passed:")
    for what, reason in batch.waits.items():
        _item(console, what, reason)
    if held:
        console.print("\nHeld, until you act:")
    for row in held:
        _item(console, f"{row.photographer}: {shown_path(row.path)}", row.reason or "")


def _by_doubt(batch: Batch) -> dict[tuple[str, str], list[str]]:
    """Return the destinations for which each doubt was raised, by original and doubt."""
    places: dict[tuple[str, str], list[str]] = {}
    for original, destination, doubt in batch.doubts:
        known = places.setdefault((original, doubt), [])
        if destination not in known:
            known.append(destination)
    return places


def _item(console: Console, what: str, text: str) -> None:
    console.print(Text(f"  {what}", style="bold"))
    console.print(Padding(Text(text), (0, 0, 0, 4)))


def _table(settings: Settings, batch: Batch) -> Table:
    table = Table(box=SIMPLE_HEAD)
    for column in ("Destination", "Deliveries", "Size", "Quality", "With doubts"):
        table.add_column(column, justify="left" if column == "Destination" else "right", no_wrap=True)
    table.add_column("Folder", overflow="fold")
    for name in settings.destinations:
        if name not in batch.destinations:
            continue
        figures = batch.destinations[name]
        quality = figures.median_quality
        table.add_row(
            name, str(figures.deliveries), readable_bytes(figures.bytes),
            "" if quality is None else f"{quality:g}", str(figures.doubts),
            str(settings.destinations[name].folder.resolve()),
        )  # fmt: skip
    return table
