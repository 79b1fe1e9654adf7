"""Progress on a terminal: one bar over all, and a line for each original that is being made."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO, cast

from rich.console import Console
from rich.file_proxy import FileProxy
from rich.markup import escape
from rich.progress import BarColumn, MofNCompleteColumn, Progress, SpinnerColumn, TaskID, TextColumn

from lanternslide.records.events import Event, Finished, Found, Listener, Started, Waits
from lanternslide.report import configure_log

__all__ = ["progress_on_terminal"]


class _Bars:
    """Shows what happens as bars; a listener."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._all = progress.add_task("All originals", total=0)
        self._found = 0
        self._lines: dict[str, TaskID] = {}

    def __call__(self, event: Event) -> None:
        """Show *event*."""
        match event:
            case Found():
                self._found += 1
                self._progress.update(self._all, total=self._found)
            case Started(file=file, deliveries=deliveries):
                what = f"{escape(file.shown)}, {deliveries} to make"
                self._lines[file.shown] = self._progress.add_task(what, total=None)
            case Finished(file=file):
                self._end_line(file.shown)
                self._progress.advance(self._all)
            case Waits(what=what):
                self._end_line(what)
            case _:
                pass

    def _end_line(self, shown: str) -> None:
        if shown in self._lines:
            self._progress.remove_task(self._lines.pop(shown))


@contextmanager
def progress_on_terminal(log: str) -> Iterator[Listener]:
    """Set the log up and, on a terminal, show progress below it; yield what is to hear of everything."""
    if not sys.stderr.isatty() or log == "json":
        configure_log(log)
        yield lambda _event: None
        return
    console = Console(stderr=True)
    columns = (SpinnerColumn(), TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=console, transient=True) as progress:
        # Log lines go through the console, above the bars.
        configure_log(log, cast("TextIO", FileProxy(console, sys.stderr)))
        yield _Bars(progress)
