"""``lanternslide uninstall``."""

from __future__ import annotations

import sys

import click

from lanternslide.cli.commands.windows_task import uninstall_task
from lanternslide.cli.session import is_root
from lanternslide.errors import ExitStatus, InstallError, UsageError
from lanternslide.install import ACCOUNT, BESIDE_UNITS, UNITS, installed, systemd_version, take_away, user_units
from lanternslide.words import Install, say

__all__ = ["uninstall"]


@click.command()
@click.option("--user", is_flag=True, help="Remove what you installed with --user.")
def uninstall(user: bool) -> int:
    """Stop the service, and remove what `install` wrote.

    Pictures, the config, the ledger and the service's user stay. On Windows it uses the config that the task names,
    whatever --config says.

    Changes: deletes the system's files for the service, and lists them.

    While the service runs: stops it cleanly first.

    Exit status: 3 if the service does not stop.
    """
    if sys.platform == "win32":
        if user:
            raise UsageError(say(Install.ONE_TASK).text)
        uninstall_task()
        return ExitStatus.DONE
    systemd_version()
    found = installed(user_units()) if user else installed(UNITS, BESIDE_UNITS)
    if not found.files:
        click.echo(say(Install.NOTHING_THERE).text)
        return ExitStatus.DONE
    if not user and not is_root():
        raise InstallError(Install.NEEDS_ROOT_TO_TAKE)
    take_away(found, ["systemctl", *(["--user"] if user else [])])
    click.echo("Deleted:")
    for path in found.files:
        click.echo(f"  {path}")
    if found.has_account:
        click.echo(f"\n{say(Install.ACCOUNT_STAYS, account=ACCOUNT).text}")
    click.echo(f"\n{say(Install.STAYS).text}")
    return ExitStatus.DONE
