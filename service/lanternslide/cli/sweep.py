"""``lanternslide sweep``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from lanternslide.cli.progress import progress_on_terminal
from lanternslide.cli.session import open_ledger, open_settings
from lanternslide.cli.summary import print_summary
from lanternslide.daemon.mail import Mailbox
from lanternslide.daemon.service import Service
from lanternslide.daemon.signals import stop_on_signals
from lanternslide.ledger import OriginalState
from lanternslide.records.events import Event
from lanternslide.report import Batch, LogReport

__all__ = ["sweep"]

HELD, WAITS = 1, 3


@click.command()
@click.pass_obj
def sweep(named: Path | None) -> int:
    """Do all that lies in the drop folders, then end.

    What is done already is left alone. What waits on a fault that may pass, such as a disk that is full, is tried
    once; the exit status is 3 then.
    """
    settings = open_settings(named)
    batch = Batch()
    mailbox = Mailbox()
    with stop_on_signals(mailbox), open_ledger(settings, "sweep") as ledger:
        with progress_on_terminal(settings.service.log) as progress:
            log = LogReport()

            def tell(event: Event) -> None:
                for listener in (progress, log, batch):
                    listener(event)

            service = Service(settings, ledger, mailbox, tell)
            service.run(until_idle=True)
        held = [row for row in ledger.held() if row.photographer in settings.photographers]
        print_summary(settings, batch, held, sys.stdout)
        waiting = [ledger.counts().get((name, OriginalState.WAITING), 0) for name in settings.photographers]
        # What may pass goes first, since sweeping again will help there.
        return WAITS if service.obstacles or any(waiting) else HELD if held else 0
