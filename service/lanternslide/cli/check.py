"""``lanternslide check``."""

from __future__ import annotations

import os
import sys

import click
from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from lanternslide.cli.options import photographer_option
from lanternslide.cli.session import Named, open_settings, state_folder
from lanternslide.cli.summary import PIPE_WIDTH
from lanternslide.daemon.surroundings import Verdict, look_around

__all__ = ["check"]

MARKS = {Verdict.FINE: ("fine", "green"), Verdict.REMARK: ("note", "yellow")}
WRONG = ("wrong", "bold red")


@click.command(short_help="Say what is wrong around the config, and what to do.")
@photographer_option
@click.pass_obj
def check(named: Named) -> int:
    """Say what is wrong with the config and its surroundings, and what to do.

    Looks at folders and rights, shares, watch limits, free space and the ledger. Changes nothing; works while the
    service runs.
    """
    settings = open_settings(named)
    console = Console(file=sys.stdout, width=None if sys.stdout.isatty() else PIPE_WIDTH, highlight=False)
    console.print(Text.assemble(("fine   ", "green"), "config"))
    worst = Verdict.FINE
    for finding in look_around(settings, state_folder(settings, os.environ)):
        mark, style = MARKS.get(finding.verdict, WRONG)
        console.print(Text.assemble((f"{mark:7s}", style), finding.what))
        console.print(Padding(Text(finding.text), (0, 0, 0, 7)))
        worst = max(worst, finding.verdict)
    return int(worst)
