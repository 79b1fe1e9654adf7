"""The figures of a batch as a table, for a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from lanternslide.records.events import Event, Idle
from lanternslide.report import Batch, Range
from lanternslide.words import counted, readable_bytes

__all__ = ["BatchTable", "print_figures"]

LONGEST = 16
"""Columns for a destination's name, so that the table fits 80; a longer one goes over several lines."""


def print_figures(console: Console, batch: Batch, order: Iterable[str]) -> None:
    """Print what was delivered to each destination, those in *order* first."""
    if not batch.deliveries:
        console.print("Nothing new was delivered.")
        return
    names = [name for name in order if name in batch.destinations]
    names += [name for name in batch.destinations if name not in names]
    is_measured = any(figures.ssims for figures in batch.destinations.values())
    table = Table(box=SIMPLE_HEAD, padding=(0, 1, 0, 0))
    table.add_column("Destination", overflow="fold", max_width=LONGEST)
    columns = ["Deliveries", "Bytes", "Quality\nmedian", "\nworst"]
    for column in (*columns, *(["SSIM\nmedian", "\nworst"] if is_measured else []), "With\ndoubts"):
        table.add_column(column, justify="right", no_wrap=True)
    for name in names:
        figures = batch.destinations[name]
        cells = [str(figures.deliveries), readable_bytes(figures.bytes), *_cells(figures.quality, "{:g}")]
        cells += _cells(figures.ssim, "{:.3f}") if is_measured else []
        table.add_row(Text(name), *cells, str(figures.doubts))
    console.print(table)
    console.print(
        f"{counted(batch.pictures, 'picture', 'pictures')}, {readable_bytes(batch.bytes_in)} in; "
        f"{counted(batch.deliveries, 'delivery', 'deliveries')}, {readable_bytes(batch.bytes_out)} out"
    )


def _cells(found: Range | None, form: str) -> list[str]:
    return ["", ""] if found is None else [form.format(found.median), form.format(found.worst)]


class BatchTable:
    """Prints the table whenever nothing is left to do; a listener."""

    def __init__(self, console: Console, order: Iterable[str]) -> None:
        self._console = console
        self._order = tuple(order)
        self._batch = Batch()

    def __call__(self, event: Event) -> None:
        """Add *event* up, and print if it was the last."""
        self._batch(event)
        if not isinstance(event, Idle):
            return
        batch, self._batch = self._batch, Batch()
        if not batch:
            return
        print_figures(self._console, batch, self._order)
        if batch.held:
            held = counted(len(batch.held), "original was held", "originals were held")
            self._console.print(f"{held}; the log above says why; so does `lanternslide status`.")
        self._console.print()
