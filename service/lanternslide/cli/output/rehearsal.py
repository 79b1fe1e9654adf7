"""What ``sweep --dry-run`` prints."""

from __future__ import annotations

from typing import TextIO

from rich.console import Console
from rich.text import Text

from lanternslide.cli.output.indent import indented
from lanternslide.cli.output.summary import PIPE_WIDTH
from lanternslide.config import Settings
from lanternslide.errors import ExitStatus
from lanternslide.ledger import Ledger
from lanternslide.preview import rehearse
from lanternslide.requests import Amount, Request, slots_known
from lanternslide.words import Command, counted, readable_duration, say

__all__ = ["print_rehearsal"]


def print_rehearsal(settings: Settings, ledger: Ledger, request: Request, stream: TextIO) -> int:
    """Print what a sweep would do, and return its exit status: 1 if something would be held."""
    console = Console(file=stream, width=None if stream.isatty() else PIPE_WIDTH, highlight=False)
    pictures = deliveries = held = 0
    again = Amount()
    for would in rehearse(settings, ledger, request, again):
        if would.held is not None:
            held += 1
            console.print(Text(f"{would.original}: would be held", style="bold"))
            console.print(indented(Text(would.held), 4))
            continue
        pictures += bool(would.destinations)
        deliveries += len(would.destinations)
        places = ", ".join(would.destinations)
        console.print(Text(f"{would.original} ({would.why}): {places}" if places else f"{would.original} {would.why}"))
    console.print(
        f"{counted(pictures, 'picture', 'pictures')} for {counted(deliveries, 'destination', 'destinations')} in all; "
        f"{held} would be held. Nothing was written. An original that is new or changed is remade only if its bytes "
        "are new; that shows when it is read."
    )
    if request.again or request.missing:
        if not again.deliveries:
            console.print(say(Command.NOTHING_TO_MAKE).text)
            return ExitStatus.HELD if held else ExitStatus.DONE
        console.print(say(Command.WOULD_MAKE_AGAIN, amount=again.shown).text)
        seconds = again.seconds(slots_known(settings, ledger))
        if seconds is not None:
            console.print(say(Command.WOULD_TAKE, time=readable_duration(seconds)).text)
    return ExitStatus.HELD if held else ExitStatus.DONE
