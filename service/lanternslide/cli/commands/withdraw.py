"""``lanternslide withdraw``."""

from __future__ import annotations

from pathlib import Path

import click

from lanternslide.cli.absolute import absolute
from lanternslide.cli.asking import perform
from lanternslide.cli.options import photographer_option
from lanternslide.cli.session import Named, open_settings
from lanternslide.requests import Request

__all__ = ["withdraw"]


@click.command()
# click.Path would look at what it is given, and wait for a share that hangs.
@click.argument("paths", metavar="PATH...", nargs=-1, required=True, type=Path)
@click.option("--destination", metavar="NAME", help="Withdraw only from this destination.")
@photographer_option
@click.pass_obj
def withdraw(named: Named, paths: tuple[Path, ...], destination: str | None) -> int:
    """Delete deliveries from their folders.

    PATH is an original in a drop folder, or where it lay there, or a folder of originals. A file that somebody changed
    after delivery stays, and is named. What you withdraw stays away until its original changes or you `retry` it.

    Changes: deletes deliveries; originals stay where they are.

    While the service runs: it does this at once.

    Exit status: 2 if a PATH is not a known original; 3 if something cannot be deleted yet.
    """
    request = Request(command="withdraw", paths=tuple(map(absolute, paths)), destination=destination)
    return perform(open_settings(named), request)
