"""An owner's command: done by a running service, or here where none runs."""

from __future__ import annotations

import os
import time
from dataclasses import replace

import click

from lanternslide.cli.session import open_ledger, state_folder
from lanternslide.config import Settings, resolve
from lanternslide.delivery.proof_sheets import ProofSheets, sheets_by
from lanternslide.errors import ExitStatus, StateError, StateLockedError
from lanternslide.ledger import Ledger, OriginalState, holder_of, is_full, release_reserve
from lanternslide.records.events import nobody
from lanternslide.report.obstacles import Obstacles
from lanternslide.requests import Reply, Request, RequestFolder, commands_alone
from lanternslide.storage.probe import Probe
from lanternslide.words import Command, say, told

__all__ = ["ask", "perform", "print_reply"]

PATIENCE_SECONDS = 30.0
LOOK_SECONDS = 0.1


def perform(settings: Settings, request: Request) -> int:
    """Have *request* done, print what came of it, and return the exit status.

    What is to be taken back is taken back on a full disk, too, from the room that is kept for that.
    """
    try:
        return _perform(settings, request)
    except StateError:
        folder = state_folder(settings, os.environ)
        if request.command != "withdraw" or not is_full(folder) or not release_reserve(folder):
            raise
        return _perform(settings, request)


def _perform(settings: Settings, request: Request) -> int:
    reply = None
    while reply is None:
        try:
            with open_ledger(settings, request.command) as ledger:
                before = _waiting(settings, ledger)
                reply = commands_alone(settings, ledger).perform(request)
                if _waiting(settings, ledger) > before:
                    reply = replace(reply, lines=(*reply.lines, say(Command.NEXT_SWEEP).text))
                sheets = sheets_by(settings, resolve(settings))
                ProofSheets(sheets, ledger, Obstacles(nobody), Probe(), nobody).write()
        except StateLockedError:
            reply = ask(settings, request)
    return print_reply(reply)


def _waiting(settings: Settings, ledger: Ledger) -> int:
    """Return how many originals wait to be done."""
    counts = ledger.reading.counts()
    return sum(counts.get((name, OriginalState.WAITING), 0) for name in settings.photographers)


def print_reply(reply: Reply) -> int:
    """Print a reply and return its exit status."""
    for line in reply.lines:
        click.echo(line)
    return reply.status


def ask(settings: Settings, request: Request) -> Reply | None:
    """Leave *request* for the running service and wait for its reply for a while.

    Returns None, and takes the request back, if what held the state folder has ended without a reply: then it is to
    be done here.
    """
    folder = state_folder(settings, os.environ)
    requests = RequestFolder(folder)
    try:
        name = requests.leave(request)
    except OSError as error:
        raise StateError(f"The folder {requests.folder} cannot be used ({told(error)}).") from error
    end = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < end:
        time.sleep(LOOK_SECONDS)
        is_free = holder_of(folder) is None
        reply = requests.take_reply(name)
        if reply is not None:
            return reply
        if is_free:
            requests.take_back(name)
            return None
    return Reply(lines=(say(Command.LEFT_FOR_SERVICE).text,), status=ExitStatus.WAITS)
