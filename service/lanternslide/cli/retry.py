"""``lanternslide retry``."""

from __future__ import annotations

from pathlib import Path

import click

from lanternslide.cli.asking import absolute, perform
from lanternslide.cli.options import photographer_option
from lanternslide.cli.session import Named, open_settings
from lanternslide.daemon.requests import Request

__all__ = ["retry"]


@click.command(short_help="Put held originals back in the queue.")
# click.Path would look at what it is given, and wait for a share that hangs.
@click.argument("paths", nargs=-1, type=Path)
@photographer_option
@click.pass_obj
def retry(named: Named, paths: tuple[Path, ...]) -> int:
    """Put held originals back in the queue: those at PATHS, or all.

    A path is an original in a drop folder, or a folder with originals. What was withdrawn comes back too, if its
    original is named. A running service takes them at once; otherwise the next one does.
    """
    return perform(open_settings(named), Request(command="retry", paths=tuple(map(absolute, paths))))
