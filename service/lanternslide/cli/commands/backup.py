"""``lanternslide backup``."""

from __future__ import annotations

import os
from pathlib import Path

import click

from lanternslide.cli.absolute import absolute
from lanternslide.cli.options import photographer_option
from lanternslide.cli.session import Named, open_settings, refuse_divided, state_folder
from lanternslide.errors import ExitStatus
from lanternslide.ledger import LEDGER_FILE
from lanternslide.ledger.upkeep.backup import back_up
from lanternslide.words import Upkeep, readable_bytes, say

__all__ = ["backup"]


@click.command()
@click.argument("file", type=Path)
@photographer_option
@click.pass_obj
def backup(named: Named, file: Path) -> int:
    """Copy the ledger to FILE.

    The copy is whole, and as the ledger is at one moment. A file of that name stays as it is, and nothing is copied.
    To put a copy back, see the guide of your system in deploy/.

    Changes: writes FILE.

    While the service runs: it goes on working.

    Exit status: 2 if FILE cannot be written; 4 if the ledger cannot be read.
    """
    settings = open_settings(named)
    folder = state_folder(settings, os.environ)
    refuse_divided(settings, folder)
    size = back_up(folder / LEDGER_FILE, Path(absolute(file)))
    click.echo(say(Upkeep.BACKED_UP, file=file, size=readable_bytes(size)).text)
    return ExitStatus.DONE
