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
from lanternslide.cli.commands.check import print_surroundings
from lanternslide.cli.output.indent import indented
from lanternslide.cli.questions import ask_all, proposed
from lanternslide.cli.session import Named, is_root
from lanternslide.config import CONFIG_NAME, FirstAnswers, cannot_be_made, in_the_way_of, load_settings
from lanternslide.errors import BeginningError, ExitStatus, UsageError
from lanternslide.intake import Round, look_through
from lanternslide.preview import begin, refuse_present
from lanternslide.records import shown_path, shown_text
from lanternslide.storage.mounts import is_remote
from lanternslide.storage.probe import Probe
from lanternslide.words import Beginning, counted, say

__all__ = ["init"]

COLUMNS = 80

MOST_SEEN = 20_000
"""So many files are looked at in a folder that may hold far more."""

FOLDERS = (
    "drop your pictures here",
    "the web pictures come out here",
    "how they turned out, day by day: open index.html",
    "the service's notes; leave them alone, and back them up",
)
"""What the folders are for, in the order in which they are made."""


@click.command()
# click.Path would look at what it is given, and wait for a share that hangs.
@click.argument("folder", metavar="[DIR]", type=Path, default=Path())
@click.option("--yes", is_flag=True, help="Ask nothing; accept every proposed answer.")
@click.pass_obj
def init(named: Named, folder: Path, yes: bool) -> int:
    """Make the folders and a first config, after a few questions.

    They go into DIR, or into the folder you are in. Then it checks everything, as `check` does.

    Changes: makes what is missing; replaces nothing.

    While the service runs: works the same, and leaves the service's config alone.

    Exit status: 2 if there is a config already, or you stopped; 3 if something cannot be made; otherwise that of
    `check`.
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
        return ExitStatus.USAGE
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
    detail = cannot_be_made(root)
    if detail is not None:
        raise BeginningError(shown_path(root), detail, "Nothing was made.")
    try:
        answers = ask_all(root, console, _lying_in)
    except (click.Abort, KeyboardInterrupt):  # at a question, or between two
        answers = None
    if answers is None:
        console.print("\nStopped; nothing was made.")
    return answers


def _lying_in(drop: Path) -> str:
    """Return what to know of the pictures that lie in a drop folder already; "" if none do, or nobody can tell."""
    if not Probe().answers(drop):
        return ""
    came_across = Round(most=MOST_SEEN)
    try:
        number = sum(1 for _ in look_through(drop, came_across=came_across))
    except OSError:  # it is still to be made; what cannot be read was refused
        return ""
    if not number:
        return ""
    pictures = counted(number, "picture", "pictures")
    if came_across.is_over:
        pictures = f"at least {pictures}"
    return say(Beginning.LIE_THERE, pictures=pictures).text


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
    console.print("\nThe folders and the config:")
    console.print(indented(table, 2))
    console.print("\nChecked:")


def _print_next(config: Path, folders: Sequence[Path], answers: FirstAnswers, console: Console) -> None:
    """Print what is worth knowing and, in the last two lines, what to do now and what will happen."""
    drop, deliveries, *_ = folders
    first = answers.destinations[0].name
    command = _command(config)
    console.print("\nGood to know:")
    there = _lying_in(drop)
    if there:
        console.print(indented(Text(there, style="yellow"), 2))
    if not answers.creator:
        console.print(indented(Text(f"Your pictures do not carry your name yet; {CONFIG_NAME} has a line for it."), 2))
    if len(answers.destinations) > 1:
        other = answers.destinations[1].name
        console.print(indented(Text(f"A picture named grey-seal@{other}.jpg goes to {other} instead of {first}."), 2))
    way = "--windows-task" if os.name == "nt" else "--systemd" if is_root() else "--systemd --user"
    console.print("  To have lanternslide always run by itself:")
    _print_whole(console, f"    {command} install {way}")
    _print_whole(console, f"\nNow: copy a picture into {shown_path(drop)} and run: {command} sweep")
    _print_whole(console, f"Then: look at its web picture in {shown_path(deliveries / answers.key / first)}")


def _print_whole(console: Console, line: str) -> None:
    """Print a line with something to copy: it is never broken, however narrow the terminal is."""
    console.print(line, soft_wrap=True, markup=False)


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
