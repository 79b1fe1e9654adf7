"""``lanternslide sweep``."""

from __future__ import annotations

import sys
from datetime import datetime

import click

from lanternslide.cli.asking import ask, print_reply
from lanternslide.cli.options import photographer_option
from lanternslide.cli.output.progress import progress_on_terminal
from lanternslide.cli.output.rehearsal import print_rehearsal
from lanternslide.cli.output.summary import print_summary
from lanternslide.cli.output.unseen import error_stream_in
from lanternslide.cli.session import Named, ledger_to_read, open_ledger, open_settings
from lanternslide.cli.since import since_option
from lanternslide.config import Settings
from lanternslide.daemon import Inbox, Service, signals_into
from lanternslide.errors import ExitStatus, StateLockedError
from lanternslide.ledger import OriginalState
from lanternslide.records import Scope
from lanternslide.records.events import Event
from lanternslide.report import Batch, LogReport, crashes_logged
from lanternslide.requests import Request, commands_alone
from lanternslide.words import Command, say

__all__ = ["sweep"]


@click.command()
@click.option("--again", is_flag=True, help="Also remake what a changed config affects.")
@click.option("--missing", is_flag=True, help="Also remake what you deleted from a destination.")
@click.option("--only", metavar="NAME", help="Do only this destination.")
@since_option("Do only originals that changed since DATE.")
@click.option("--dry-run", is_flag=True, help="Say what it would do; write nothing.")
@photographer_option
@click.pass_obj
def sweep(named: Named, /, **options: object) -> int:
    """Deliver everything in the drop folders, then stop.

    It skips what is delivered already. What waits, for space on a disk for example, it tries once.

    Changes: the same as `watch`; nothing with --dry-run.

    While the service runs: asks the service to do it; --dry-run works the same.
    """
    settings = open_settings(named)
    since = options["since"]
    request = Request(
        command="sweep",
        destination=str(options["only"]) if options["only"] else None,
        again=bool(options["again"]),
        missing=bool(options["missing"]),
        since_ns=int(since.timestamp() * 1e9) if isinstance(since, datetime) else None,
    )
    if request.destination is not None and request.destination not in settings.destinations:
        known = ", ".join(settings.destinations)
        raise click.UsageError(say(Command.NO_SUCH_DESTINATION, found=request.destination, known=known).text)
    if options["dry_run"]:
        return _rehearse(settings, request)
    while True:
        try:
            return _sweep(settings, request)
        except StateLockedError:
            reply = ask(settings, request)
            if reply is not None:
                return print_reply(reply)


def _rehearse(settings: Settings, request: Request) -> int:
    with ledger_to_read(settings) as ledger:
        return print_rehearsal(settings, ledger, request, sys.stdout)


def _sweep(settings: Settings, request: Request) -> int:
    batch = Batch()
    inbox = Inbox()
    scope = Scope(only=request.destination, since_ns=request.since_ns)
    with signals_into(inbox), open_ledger(settings, "sweep") as ledger, error_stream_in(ledger.folder):
        if request.again or request.missing:
            commands_alone(settings, ledger).perform(request)
        with progress_on_terminal(settings.service.log) as progress, crashes_logged():
            log = LogReport()

            def tell(event: Event) -> None:
                for listener in (progress, log, batch):
                    listener(event)

            service = Service(settings, ledger, inbox, tell, scope=scope)
            service.run(until_idle=True)
        held = [row for row in ledger.reading.held() if row.photographer in settings.photographers]
        print_summary(settings, batch, held, sys.stdout)
        waiting = [ledger.reading.counts().get((name, OriginalState.WAITING), 0) for name in settings.photographers]
        # What may pass goes first, since sweeping again will help there. What a limited sweep leaves is no fault.
        return (
            ExitStatus.WAITS
            if service.obstacles or (any(waiting) and not scope)
            else ExitStatus.HELD
            if held
            else ExitStatus.DONE
        )
