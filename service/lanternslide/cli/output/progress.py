"""Progress on a terminal: one bar over all, and a line for each original that is being made."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO, cast

from rich.console import Console, Group
from rich.file_proxy import FileProxy
from rich.live import Live
from rich.markup import escape
from rich.progress import BarColumn, MofNCompleteColumn, Progress, SpinnerColumn, TaskID, TextColumn, TimeElapsedColumn

from lanternslide.records.events import Behind, Event, Finished, Found, Listener, Started, Waits
from lanternslide.report import Pace, configure_log
from lanternslide.words import readable_duration

__all__ = ["progress_on_terminal"]


class _Bars:
    """Shows what happens as bars; a listener."""

    def __init__(self, console: Console) -> None:
        self._one = Progress(SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn(), console=console)
        whole = (
            TextColumn("{task.description}"), BarColumn(20), MofNCompleteColumn(), TimeElapsedColumn(),
            TextColumn("{task.fields[left]}"),
        )  # fmt: skip
        self._all = Progress(*whole, console=console)
        self._task = self._all.add_task("All originals", total=None, left="")
        self._pace = Pace()
        self._lines: dict[str, TaskID] = {}
        self.shown = Group(self._one, self._all)  #: What the terminal shows.

    def __call__(self, event: Event) -> None:
        """Show *event*."""
        self._pace(event)
        match event:
            case Found() | Behind():
                self._show_whole()
            case Started(file=file, deliveries=deliveries):
                self._end_line(file.shown)
                what = f"{escape(file.shown)}: making {deliveries}"
                self._lines[file.shown] = self._one.add_task(what, total=None)
            case Finished(file=file):
                self._end_line(file.shown)
                self._show_whole()
            case Waits(what=what):
                self._end_line(what)
            case _:
                pass

    def _show_whole(self) -> None:
        left = self._pace.seconds_left
        text = "" if not left else f"about {readable_duration(left)} left"
        self._all.update(self._task, total=self._pace.all, completed=self._pace.done, left=text)

    def _end_line(self, shown: str) -> None:
        if shown in self._lines:
            self._one.remove_task(self._lines.pop(shown))


@contextmanager
def progress_on_terminal(log: str) -> Iterator[Listener]:
    """Set the log up and, on a terminal, show progress below it; yield what is to hear of everything."""
    if not sys.stderr.isatty() or log == "json":
        configure_log(log)
        yield lambda _event: None
        return
    console = Console(stderr=True, highlight=False)
    bars = _Bars(console)
    with Live(bars.shown, console=console, transient=True):
        # Log lines go through the console, above the bars.
        configure_log(log, cast("TextIO", FileProxy(console, sys.__stderr__ or sys.stderr)))
        yield bars
