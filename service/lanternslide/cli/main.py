"""The command group, and errors turned into messages and exit statuses."""

from __future__ import annotations

import os
import sys
import traceback
from pathlib import Path

import click

from lanternslide import __version__
from lanternslide.cli.commands.backup import backup
from lanternslide.cli.commands.check import check
from lanternslide.cli.commands.history import history
from lanternslide.cli.commands.init import init
from lanternslide.cli.commands.install import install
from lanternslide.cli.commands.repair import repair
from lanternslide.cli.commands.retry import retry
from lanternslide.cli.commands.ringaround import ringaround
from lanternslide.cli.commands.status import status
from lanternslide.cli.commands.sweep import sweep
from lanternslide.cli.commands.trace import trace
from lanternslide.cli.commands.uninstall import uninstall
from lanternslide.cli.commands.watch import watch
from lanternslide.cli.commands.withdraw import withdraw
from lanternslide.cli.output.unseen import leave_error, take_every_letter
from lanternslide.cli.session import Named
from lanternslide.errors import ExitStatus, LanternslideError
from lanternslide.report import complaint

__all__ = ["cli", "entrypoint"]

EPILOG = """\
Exit status: 0 all is well; 1 something is held; 2 wrong usage or an invalid config; 3 something waits for a fault to
pass, or, for `status`, no service runs; 4 the state folder cannot be used.
"""


@click.group(epilog=EPILOG, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80})
@click.option(
    "--config", "named", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
    help="The config to use. Without it: $LANTERNSLIDE_CONFIG, ./lanternslide.toml, or the one in your config folder.",
)  # fmt: skip
@click.version_option(__version__, prog_name="lanternslide", message="%(prog)s %(version)s")
@click.pass_context
def cli(context: click.Context, named: Path | None) -> None:
    """Make web pictures from full-size exports, one for each destination.

    Put an export into a drop folder. A tag in its name, as in skerry@journal.tif, or its subfolder says where it goes.
    Originals are never changed. Begin with `lanternslide init`.
    """
    context.obj = Named(config=named)


for command in (
    init, check, watch, sweep, trace, ringaround, status, history, retry, withdraw, backup, repair,
    install, uninstall,
):  # fmt: skip
    cli.add_command(command)


def entrypoint() -> None:
    """Run the command line and end the process."""
    take_every_letter()
    try:
        status = cli.main(prog_name="lanternslide", standalone_mode=False)
    except LanternslideError as error:
        click.echo(complaint(str(error), sys.stderr, os.environ), err=True)
        leave_error(str(error))
        sys.exit(error.exit_status)
    except click.ClickException as error:
        error.show()
        leave_error(error.format_message())
        sys.exit(ExitStatus.USAGE)
    except click.exceptions.Abort:
        sys.exit(ExitStatus.USAGE)
    except Exception:
        leave_error(traceback.format_exc())
        raise
    sys.exit(status if isinstance(status, int) else ExitStatus.DONE)
