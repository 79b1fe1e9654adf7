"""``lanternslide check``."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator

import click
from rich.console import Console
from rich.text import Text

from lanternslide.cli.options import photographer_option
from lanternslide.cli.output.indent import indented
from lanternslide.cli.output.summary import PIPE_WIDTH
from lanternslide.cli.output.unseen import error_file
from lanternslide.cli.session import Named, open_settings, state_folder
from lanternslide.config import Settings
from lanternslide.preview import Finding, Verdict, look_around
from lanternslide.words import Check, say

__all__ = ["check", "print_surroundings"]

MARKS = {Verdict.FINE: ("fine", "green"), Verdict.REMARK: ("note", "yellow")}
WRONG = ("wrong", "bold red")


@click.command()
@photographer_option
@click.pass_obj
def check(named: Named) -> int:
    """Say what is wrong with the config and around it.

    It also says what to do. It looks at folders and permissions, shares, watch limits, free space and the ledger.

    Changes: nothing.

    While the service runs: works the same.

    Exit status: as for all commands, by the worst finding.
    """
    return print_surroundings(open_settings(named))


def print_surroundings(settings: Settings) -> int:
    """Print what is found around a config, and return the exit status that follows from the worst of it."""
    console = Console(file=sys.stdout, width=None if sys.stdout.isatty() else PIPE_WIDTH, highlight=False)
    console.print(Text.assemble(("fine   ", "green"), "config"))
    worst = Verdict.FINE
    for finding in (*_left_unseen(), *look_around(settings, state_folder(settings, os.environ))):
        mark, style = MARKS.get(finding.verdict, WRONG)
        console.print(Text.assemble((f"{mark:7s}", style), finding.what))
        console.print(indented(Text(finding.text), 7))
        worst = max(worst, finding.verdict)
    return int(worst)


def _left_unseen() -> Iterator[Finding]:
    """Yield the error with which a start that nobody saw has ended, if no good one has followed."""
    file = error_file()
    try:
        lines = file.read_text("utf-8", "replace").splitlines()
    except OSError:  # there is none, as almost always
        return
    shown = ("".join(letter for letter in line if letter.isprintable()) for line in lines)
    text = "\n".join([say(Check.ENDED_UNSEEN, file=file).text, *shown])
    yield Finding(what=file.name, verdict=Verdict.REMARK, text=text)
