"""``lanternslide init``."""

from __future__ import annotations

import os
import shlex
import shutil
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table
from rich.text import Text

from lanternslide.cli.absolute import absolute
from lanternslide.cli.check import print_surroundings
from lanternslide.cli.indent import indented
from lanternslide.cli.questions import ask_all, proposed
from lanternslide.cli.session import Named, is_root
from lanternslide.config import CONFIG_NAME, FirstAnswers, in_the_way_of, load_settings
from lanternslide.daemon.beginning import begin, refuse_present
from lanternslide.errors import UsageError
from lanternslide.intake import is_remote
from lanternslide.records import shown_path, shown_text
from lanternslide.words import Beginning, say

__all__ = ["init"]

STOPPED = 2
COLUMNS = 80
FOLDERS = (
    "drop your pictures here",
    "the web pictures come out here",
    "how they turned out, day by day: open index.html",
    "the service's notes; leave it alone",
)
"""What the folders are for, in the order in which they are made."""


@click.command()
# click.Path would look at what it is given, and wait for a share that hangs.
@click.argument("folder", metavar="[DIR]", type=Path, default=Path())
@click.option("--yes", is_flag=True, help="Ask nothing, and take what would be proposed.")
@click.pass_obj
def init(named: Named, folder: Path, yes: bool) -> int:
    """Make the folders and a first config, asking three questions.

    They go into DIR, or without it into the folder you are in. Then all is looked at, as `check` does it.

    Changes: makes what is not there yet; replaces nothing.

    While the service runs: works the same, and leaves its config alone.

    Exit status: 2 if there is a config already; 3 if something cannot be made; otherwise that of `check`.
    """
    if named.config is not None:
        raise UsageError(say(Beginning.CONFIG_NAMED).text)
    root = Path(absolute(folder))
    config = root / CONFIG_NAME
    blocked = in_the_way_of(root)
    if blocked is not None:
        raise UsageError(say(Beginning.FILE_IN_THE_WAY, folder=root, file=blocked).text)
    refuse_present(config)
    console = Console(file=sys.stdout, highlight=False)
    console.width = min(console.width, COLUMNS)
    answers = proposed() if yes else _ask(root, console)
    if answers is None:
        return STOPPED
    # A ledger is not safe on a share; the user's own folder for such things is taken then.
    answers = replace(answers, on_share=is_remote(root))
    folders = begin(config, answers)
    _print_made(root, config, folders, console)
    status = print_surroundings(load_settings(config))
    if status > 0:
        console.print(Text(f"\n{say(Beginning.MEND_FIRST, command=_command(config)).text}"))
    else:
        _print_next(config, folders, answers, console)
    return status


def _ask(root: Path, console: Console) -> FirstAnswers | None:
    """Return the answers, or None if the person stopped it."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise UsageError(say(Beginning.NOBODY_TO_ASK).text)
    try:
        return ask_all(root, console)
    except click.Abort:
        console.print("\nStopped; nothing was made.")
        return None


def _print_made(root: Path, config: Path, folders: Sequence[Path], console: Console) -> None:
    table = Table.grid(padding=(0, 3, 0, 0))
    table.add_column(overflow="fold")
    table.add_column()
    for path, purpose in (
        *zip(folders, FOLDERS[: len(folders)], strict=True),
        (config, "the config; change it as you like"),
    ):
        shown = path.relative_to(root) if path.is_relative_to(root) else path
        table.add_row(Text(shown_path(shown)), Text(purpose))
    console.print("\nMade, or there already:")
    console.print(indented(table, 2))
    console.print("\nIs all well?")


def _print_next(config: Path, folders: Sequence[Path], answers: FirstAnswers, console: Console) -> None:
    drop, deliveries, *_ = folders
    first = answers.places[0].name
    command = _command(config)
    _step(console, "Try it with one picture. Copy one into", shown_path(drop))
    _step(console, "and run", f"{command} sweep")
    _step(console, "It comes out in", shown_path(deliveries / answers.key / first))
    if not answers.creator:
        console.print(Text(f"\nYour name is written into no picture yet; {CONFIG_NAME} has a line for it."))
    if len(answers.places) > 1:
        other = answers.places[1].name
        console.print(Text(f"\nCalled grey-seal@{other}.jpg, say, it goes to {other} instead."))
    way = "--windows-task" if os.name == "nt" else "--systemd" if is_root() else "--systemd --user"
    _step(console, "To have it run by itself from then on:", f"{command} install {way}")


def _step(console: Console, text: str, what: str) -> None:
    """Print a sentence, and what is to be copied whole, however narrow the terminal is."""
    console.print(f"\n{text}")
    console.print(f"  {what}", soft_wrap=True, markup=False)


def _command(config: Path) -> str:
    """Return how lanternslide is called from here so that it finds *config*."""
    usual = Path(os.environ.get("LANTERNSLIDE_CONFIG") or CONFIG_NAME)
    if absolute(usual) == str(config):
        return _program()
    quoted = f'"{config}"' if os.name == "nt" else shlex.quote(str(config))
    return f"{_program()} --config {shown_text(quoted)}"


def _program() -> str:
    """Return how lanternslide is called from here: by its name alone where that is found."""
    called = Path(sys.argv[0])
    found = shutil.which("lanternslide")
    if found is not None and (not called.is_file() or called.samefile(found)):
        return "lanternslide"
    if called.is_file() and called.name != "__main__.py":
        return shlex.quote(absolute(called))
    return f"{shlex.quote(sys.executable)} -m lanternslide"
