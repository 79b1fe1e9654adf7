"""``lanternslide retry``."""

from __future__ import annotations

from pathlib import Path

import click

from lanternslide.cli.absolute import absolute
from lanternslide.cli.asking import perform
from lanternslide.cli.options import photographer_option
from lanternslide.cli.session import Named, open_settings
from lanternslide.requests import Request

__all__ = ["retry"]


@click.command()
# click.Path would look at what it is given, and wait for a share that hangs.
@click.argument("paths", metavar="[PATH]...", nargs=-1, type=Path)
@photographer_option
@click.pass_obj
def retry(named: Named, paths: tuple[Path, ...]) -> int:
    """Try held originals again.

    PATH is an original in a drop folder, or a folder of originals. Without a PATH, everything that is held is tried
    again. If you name a withdrawn original, its deliveries come back.

    Changes: the ledger; the service or the next sweep makes the pictures.

    While the service runs: it takes them at once.

    Exit status: 2 if a PATH is not a known original.
    """
    return perform(open_settings(named), Request(command="retry", paths=tuple(map(absolute, paths))))
