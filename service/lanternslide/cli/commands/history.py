"""``lanternslide history``."""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

import click

from lanternslide.cli.options import photographer_option
from lanternslide.cli.output.summary import PIPE_WIDTH
from lanternslide.cli.session import Named, open_settings, refuse_divided, state_folder
from lanternslide.cli.since import since_option
from lanternslide.errors import ExitStatus
from lanternslide.ledger import Ledger
from lanternslide.report import readable_held, readable_records
from lanternslide.words import counted

__all__ = ["history"]


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on each line, with every figure.")
@since_option("Show only what was delivered or held since DATE.")
@photographer_option
@click.pass_obj
def history(named: Named, as_json: bool, since: datetime | None) -> int:
    """List what was delivered, withdrawn and held.

    Deliveries come first, oldest first, then what is held.

    Changes: nothing.

    While the service runs: works the same.

    Exit status: 1 if something is held, even if --since leaves it out.
    """
    settings = open_settings(named)
    folder = state_folder(settings, os.environ)
    refuse_divided(settings, folder)
    ledger = Ledger.to_read(folder)
    if ledger is None:
        if not as_json:
            click.echo("Nothing was done with this state folder yet.")
        return ExitStatus.DONE
    with ledger:
        with _until_nobody_reads():
            if as_json:
                _print_json(ledger, since)
            else:
                _print_list(ledger, since)
        return ExitStatus.HELD if ledger.reading.number_held() else ExitStatus.DONE


@contextmanager
def _until_nobody_reads() -> Iterator[None]:
    """End quietly where what reads the output has had enough."""
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        # What is still in the buffer must not fail again at the very end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _print_json(ledger: Ledger, since: datetime | None) -> None:
    stream = sys.stdout.buffer  # JSON is UTF-8, whatever a terminal takes
    for lines in (ledger.reading.record_lines(since), ledger.reading.held_lines(since)):
        for line in lines:
            stream.write(line.encode() + b"\n")


def _print_list(ledger: Ledger, since: datetime | None) -> None:
    width = shutil.get_terminal_size().columns if sys.stdout.isatty() else PIPE_WIDTH
    for line in _list(ledger, since, width):
        sys.stdout.write(f"{line}\n")


def _list(ledger: Ledger, since: datetime | None, width: int) -> Iterator[str]:
    made = readable_records(map(json.loads, ledger.reading.record_lines(since)), width)
    yield next(made, "Nothing was delivered." if since is None else "Nothing was delivered since.")
    yield from made
    yield from readable_held(map(json.loads, ledger.reading.held_lines(since)), width)
    older = 0 if since is None else ledger.reading.number_held(before=since)
    if older:
        yield ""
        yield f"{counted(older, 'original was', 'originals were')} held earlier; see `lanternslide status`."
