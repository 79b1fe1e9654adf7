"""``lanternslide withdraw``."""

from __future__ import annotations

from pathlib import Path

import click

from lanternslide.cli.asking import absolute, perform
from lanternslide.cli.options import photographer_option
from lanternslide.cli.session import Named, open_settings
from lanternslide.daemon.requests import Request

__all__ = ["withdraw"]


@click.command(short_help="Take deliveries back out of their folders.")
# click.Path would look at what it is given, and wait for a share that hangs.
@click.argument("paths", nargs=-1, required=True, type=Path)
@click.option("--destination", metavar="NAME", help="Only what was delivered to this destination.")
@photographer_option
@click.pass_obj
def withdraw(named: Named, paths: tuple[Path, ...], destination: str | None) -> int:
    """Take deliveries of the originals at PATHS back out of their folders.

    A path is an original as it lies, or lay, in a drop folder, or a folder with originals. Only files are deleted that
    are still what was delivered; one that somebody has changed stays, and is named. Originals stay where they are. What
    is withdrawn does not come back until its original changes or `retry` names it.
    """
    request = Request(command="withdraw", paths=tuple(map(absolute, paths)), destination=destination)
    return perform(open_settings(named), request)
