"""The owner's commands, as changes of the ledger: the main loop then does what they ask for."""

from __future__ import annotations

import os
from collections.abc import Container, Iterator
from pathlib import Path

from lanternslide.config import Settings, resolve
from lanternslide.delivery import Publisher, Reachability
from lanternslide.errors import ExitStatus, PassingFaultError
from lanternslide.intake import Decisions, look_at
from lanternslide.ledger import DeliveryState, Ledger, OriginalRow, OriginalState
from lanternslide.records import Fingerprint, shown_path
from lanternslide.records.events import nobody
from lanternslide.requests.named_paths import below_drops, ways_to
from lanternslide.requests.recovery import Recovery
from lanternslide.requests.remaking import Amount, Remaking
from lanternslide.requests.request_folder import Reply, Request
from lanternslide.requests.slots import slots_known
from lanternslide.storage import is_folder
from lanternslide.storage.probe import Probe
from lanternslide.words import Command, Said, counted, readable_duration, say

__all__ = ["DROP_NOTE", "OwnerCommands", "commands_alone"]

DROP_NOTE = "drop/"
"""Under such a name the ledger notes a photographer's drop folder, bytes in hexadecimal."""


class OwnerCommands:
    """Does what an owner asks for, once, and says what came of it."""

    def __init__(
        self,
        settings: Settings,
        ledger: Ledger,
        decisions: Decisions,
        reachability: Reachability,
        recovery: Recovery,
        again: Remaking,
    ) -> None:
        self._settings = settings
        self._ledger = ledger
        self._decisions = decisions
        self._reachability = reachability
        self._recovery = recovery
        self._sweeping: tuple[str, Iterator[Reply | None]] | None = None  # a request that is done in parts
        self.again = again  #: What a sweep may be asked to make again.

    def perform(self, request: Request | None) -> Reply:
        """Do what is asked for; what cannot be done is said in the reply."""
        if request is None:
            return _refused(say(Command.NOT_UNDERSTOOD).text)
        known_names = dict.fromkeys(
            (*self._settings.destinations, *sorted(self._ledger.deliveries.known_destinations()))
        )
        if request.destination is not None and request.destination not in known_names:
            known = ", ".join(known_names)
            return _refused(say(Command.NO_SUCH_DESTINATION, found=request.destination, known=known).text)
        match request.command:
            case "retry":
                return self._retry(request)
            case "withdraw":
                return self._withdraw(request)
            case "sweep":
                *_, reply = self.sweep(request)
                assert reply is not None
                return reply
            case _:
                return _refused(say(Command.NOT_UNDERSTOOD).text)

    # Which originals

    def _named(self, path: str) -> list[OriginalRow]:
        """Return the originals that a path means: one, or all in a folder, where they lie, lay, or are filed away."""
        found: dict[int, OriginalRow] = {}
        named = Path(path)
        for name, relative in below_drops(named, self._drops(), self._reachability):
            rows = self._ledger.originals.below(name, relative)
            row = self._ledger.originals.of_picture(name, relative)
            found |= {row.id: row for row in (*rows, *([row] if row else []))}
        for candidate in ways_to(named, self._reachability):
            found |= {row.id: row for row in self._ledger.originals.filed_at(candidate)}
        return [found[number] for number in sorted(found)]

    def _drops(self) -> Iterator[tuple[str, Path]]:
        """Yield every photographer's drop folder, also of those who are no longer in the config."""
        yield from ((name, owner.drop) for name, owner in self._settings.photographers.items())
        for name, folder in self._ledger.notes.below(DROP_NOTE):
            if name not in self._settings.photographers:
                yield name, Path(os.fsdecode(bytes.fromhex(folder)))

    # Retry

    def _retry(self, request: Request) -> Reply:
        if not request.paths:
            held = [row for row in self._ledger.reading.held() if row.photographer in self._settings.photographers]
            for row in held:
                self._ledger.originals.retry_held(row.id)
            if not held:
                return Reply(lines=(say(Command.NOTHING_HELD).text,))
            return Reply(lines=(say(Command.RETRIED, originals=counted(len(held), "original", "originals")).text,))
        lines, status = [], 0
        for path in request.paths:
            rows = self._named(path)
            chosen = [row for row in rows if row.state is OriginalState.HELD or self._was_withdrawn(row)]
            for row in chosen:
                self._ledger.withdrawals.retry(row.id)
            if not rows:
                lines.append(say(Command.UNKNOWN, path=shown_path(Path(path))).text)
                status = ExitStatus.USAGE
            elif not chosen:
                lines.append(say(Command.NOTHING_TO_RETRY, path=shown_path(Path(path))).text)
            lines += [say(Command.RETRIED_ONE, original=row.shown).text for row in chosen]
        return Reply(lines=tuple(lines), status=status)

    def _was_withdrawn(self, row: OriginalRow) -> bool:
        return any(
            delivery.state == DeliveryState.WITHDRAWN for delivery in self._ledger.deliveries.of_original(row.id)
        )

    # Withdraw

    def _note_unseen(self, path: str) -> None:
        """Note originals at a path that were not taken in yet, so that they can be taken back before they are made."""
        for name, owner in self._settings.photographers.items():
            if not Path(path).is_relative_to(owner.drop) or not self._reachability.answers(owner.drop):
                continue
            try:
                files = list(look_at(name, owner.drop, Path(path).relative_to(owner.drop)))
            except OSError:  # the drop folder is away; what the ledger knows is enough
                continue
            for file in files:
                routing = self._decisions.routing_of(file)
                if isinstance(routing, Said) or self._decisions.is_outdated(file, routing):
                    continue
                if not self._ledger.originals.at(name, file.relative):
                    self._ledger.originals.take_in(file, routing.picture)

    def _withdraw(self, request: Request) -> Reply:
        lines: list[str] = []
        status = 0
        for path in request.paths:
            self._note_unseen(path)
            rows = self._named(path)
            if not rows:
                lines.append(say(Command.UNKNOWN, path=shown_path(Path(path))).text)
                status = ExitStatus.USAGE
            for row in rows:
                said, waits = self._withdraw_one(row, request.destination)
                lines += said
                status = status or (ExitStatus.WAITS if waits else ExitStatus.DONE)
        return Reply(lines=tuple(lines), status=status)

    def _withdraw_one(self, row: OriginalRow, destination: str | None) -> tuple[list[str], bool]:
        lines: list[str] = []
        waits = False
        for delivery in self._ledger.deliveries.of_original(row.id):
            if delivery.intent is None or destination not in (None, delivery.destination):
                continue
            try:
                self._recovery.settle(delivery)
            except PassingFaultError as fault:
                # Whether it stands cannot be told now; once it can, it is taken back.
                path = shown_path(delivery.intent.path)
                lines.append(say(Command.WITHDRAWN_LATER, path=path, reason=fault.said.text).text)
                waits = True
        self._ledger.withdrawals.withdraw(row.id, destination, self._fingerprint_of(row))
        for delivery in self._ledger.deliveries.of_original(row.id):
            is_meant = destination in (None, delivery.destination)
            if is_meant and delivery.state == DeliveryState.WITHDRAWN and delivery.output is not None:
                said, is_away = self._recovery.take_back(row, delivery)
                lines.append(said)
                waits = waits or is_away
        said_of_earlier, is_away = self._recovery.take_back_earlier(row, destination)
        lines += said_of_earlier
        waits = waits or is_away
        if not lines:
            lines.append(say(Command.NOTHING_STANDS, original=row.shown).text)
        return lines, waits

    def _fingerprint_of(self, row: OriginalRow) -> Fingerprint | None:
        """Return how an original looks now; None if it is not in its drop folder."""
        owner = self._settings.photographers.get(row.photographer)
        if owner is None or not self._reachability.answers(owner.drop) or not is_folder(owner.drop):
            return None
        found = list(look_at(row.photographer, owner.drop, row.path))
        return found[0].fingerprint if [file.relative for file in found] == [row.path] else None

    # Sweep

    @property
    def is_sweeping(self) -> bool:
        """Whether a sweep that was asked for is not all noted yet."""
        return self._sweeping is not None

    def sweep_on(self, name: str, request: Request) -> Reply | None:
        """Do the next part of the sweep that the request *name* asks for, and return the reply after the last one.

        One is done after the other: for another one than that which was begun nothing is done yet.
        """
        if self._sweeping is None:
            self._sweeping = name, self.sweep(request)
        asked, parts = self._sweeping
        reply = None
        if asked == name:
            self._sweeping = None  # a part that fails is the last one
            reply = next(parts)
            self._sweeping = (name, parts) if reply is None else None
        return reply

    def keep_to(self, names: Container[str]) -> None:
        """Give up a sweep that was begun if its request is not among these *names* any more."""
        if self._sweeping is not None and self._sweeping[0] not in names:
            self._sweeping = None

    def sweep(self, request: Request) -> Iterator[Reply | None]:
        """Let what is touched be made again, in parts; what is new is done anyway. Yield the reply at last.

        Before it comes None after each part, which stands in the ledger as a whole then.
        """
        amount = Amount()
        for touched in self.again.touched(request):
            self._ledger.older.ask_again((one.original.id, [row.id for row in one.deliveries]) for one in touched)
            amount.add(touched)
            yield None
        status = (
            ExitStatus.HELD
            if any(row.photographer in self._settings.photographers for row in self._ledger.reading.held())
            else ExitStatus.DONE
        )
        if not (request.again or request.missing):
            yield Reply(lines=(say(Command.LOOKS_NOW).text,), status=status)
            return
        if not amount.deliveries:
            yield Reply(lines=(say(Command.NOTHING_TO_MAKE).text,), status=status)
            return
        lines = [say(Command.MADE_AGAIN, amount=amount.shown).text]
        seconds = amount.seconds(slots_known(self._settings, self._ledger))
        if seconds is not None:
            lines.append(say(Command.TAKES_ABOUT, time=readable_duration(seconds)).text)
        yield Reply(lines=tuple(lines), status=status)


def commands_alone(settings: Settings, ledger: Ledger) -> OwnerCommands:
    """Return what does an owner's commands where no service runs."""
    reachability = Reachability(ledger.folders, Probe())
    photographers = resolve(settings)
    decisions = Decisions(photographers, ledger.originals, ledger.deliveries, nobody)
    publisher = Publisher(photographers, ledger, reachability)
    recovery = Recovery(photographers, ledger, decisions, publisher, reachability, nobody)
    again = Remaking(photographers, ledger, decisions, publisher, reachability)
    return OwnerCommands(settings, ledger, decisions, reachability, recovery, again)


def _refused(text: str) -> Reply:
    return Reply(lines=(text,), status=ExitStatus.USAGE)
