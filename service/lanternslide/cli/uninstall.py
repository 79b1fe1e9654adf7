"""``lanternslide uninstall``."""

from __future__ import annotations

import os
import sys

import click

from lanternslide.cli.install import user_units
from lanternslide.cli.session import Named, is_root, open_settings, state_folder
from lanternslide.errors import InstallError
from lanternslide.install import ACCOUNT, ETC, TASK_NAME, installed, remove_task, systemd_version, take_away
from lanternslide.words import Install, say

__all__ = ["uninstall"]


@click.command()
@click.option("--user", is_flag=True, help="Take away what was installed with --user.")
@click.pass_obj
def uninstall(named: Named, user: bool) -> int:
    """Stop the service, and take away what `install` wrote.

    Pictures, the config and the ledger stay; so does the service's user, to whom they belong.

    Changes: deletes the system's files for the service, and says which.

    While the service runs: stops it in order first.

    Exit status: 3 if the service does not stop.
    """
    if sys.platform == "win32":
        return _task(named)
    systemd_version()
    extra = [ETC / folder / "lanternslide.conf" for folder in ("sysusers.d", "tmpfiles.d")]
    found = installed(user_units()) if user else installed(ETC / "systemd/system", extra)
    if not found.files:
        click.echo(say(Install.NOTHING_THERE).text)
        return 0
    if not user and not is_root():
        raise InstallError(Install.NEEDS_ROOT_TO_TAKE)
    take_away(found, ["systemctl", *(["--user"] if user else [])])
    click.echo("Deleted:")
    for path in found.files:
        click.echo(f"  {path}")
    if found.has_account:
        click.echo(f"\n{say(Install.ACCOUNT_STAYS, account=ACCOUNT).text}")
    click.echo(f"\n{say(Install.STAYS).text}")
    return 0


def _task(named: Named) -> int:
    settings = open_settings(named)
    state = state_folder(settings, os.environ)
    if not remove_task(TASK_NAME, state, grace_seconds=settings.service.grace_seconds):
        click.echo(say(Install.NOTHING_THERE).text)
        return 0
    click.echo(f"The task {TASK_NAME} is gone. {say(Install.STAYS).text}")
    return 0
