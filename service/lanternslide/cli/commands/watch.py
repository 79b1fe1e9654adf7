"""``lanternslide watch``."""

from __future__ import annotations

import faulthandler
import os
import sys

import click
from rich.console import Console

from lanternslide.cli.options import photographer_option
from lanternslide.cli.output.batch_table import BatchTable
from lanternslide.cli.output.unseen import delete_error, error_stream_in
from lanternslide.cli.session import Named, open_ledger, open_settings, state_folder
from lanternslide.config import Settings
from lanternslide.daemon import Inbox, Service, Supervisor, signals_into
from lanternslide.errors import ConfigError, ConfigFault, ExitStatus
from lanternslide.records.events import Event, Listener
from lanternslide.report import LogReport, configure_log, crashes_logged
from lanternslide.words import ConfigWord

__all__ = ["watch"]


@click.command()
@photographer_option
@click.pass_obj
def watch(named: Named) -> int:
    """Run the service: deliver what is dropped, until you stop it.

    To stop it, press Ctrl-C, send SIGTERM, or put an empty file `stop` into the state folder. It finishes what it is
    making, for at most `grace_seconds`; a second Ctrl-C shortens the wait. The rest is done at the next start.

    Changes: makes deliveries, and proof sheets and manifests where the config asks for them.

    While the service runs: refuses, since only one can run at a time.
    """
    settings = open_settings(named)
    inbox = Inbox()

    def reread() -> Settings:
        found = open_settings(named)
        same = {
            "service.state": state_folder(found, os.environ) == state_folder(settings, os.environ),
            "service.executor": found.service.executor == settings.service.executor,
        }
        file = str(named.config or "the config")
        faults = [ConfigFault.of(file, key, ConfigWord.NEEDS_RESTART) for key, is_same in same.items() if not is_same]
        if faults:
            raise ConfigError(faults)
        return found

    if sys.stderr is not None:
        # A supervisor ends a service that hangs by SIGABRT; the log then says where it hung.
        faulthandler.enable()
    supervisor = Supervisor.from_environment(os.environ)
    with signals_into(inbox), open_ledger(settings, "watch") as ledger, error_stream_in(ledger.folder):
        configure_log(settings.service.log)
        with crashes_logged():
            service = Service(settings, ledger, inbox, _listener(settings), reread=reread)
            delete_error()
            service.run(until_idle=False, supervisor=supervisor)
    return ExitStatus.DONE


def _listener(settings: Settings) -> Listener:
    """Return what writes the log and, where a person reads it, a table after each batch."""
    log = LogReport()
    if settings.service.log == "json" or not sys.stderr.isatty():
        return log
    table = BatchTable(Console(stderr=True, highlight=False), settings.destinations)

    def tell(event: Event) -> None:
        log(event)
        table(event)

    return tell
