"""The owner's commands, as changes of the ledger: the main loop then does what they ask for."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from lanternslide.config import Settings
from lanternslide.daemon.desk import Desk
from lanternslide.daemon.publisher import Publisher
from lanternslide.daemon.recipes import wanted_by
from lanternslide.daemon.requests import Answer, Request
from lanternslide.daemon.scope import Scope
from lanternslide.daemon.taking_back import TakenBack, take_back
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import DeliveryRow, Ledger, OriginalRow, OriginalState
from lanternslide.records import Routing, shown_path
from lanternslide.records.events import Listener, Withdrawn
from lanternslide.words import Command, say

__all__ = ["Owner", "Touched"]

USAGE, WAITS, HELD = 2, 3, 1


@dataclass(frozen=True, kw_only=True, slots=True)
class Touched:
    """An original of which something is to be made again."""

    original: OriginalRow
    deliveries: tuple[DeliveryRow, ...]  #: Those to be made again.
    new: tuple[str, ...] = ()  #: Destinations that it did not go to before.


class Owner:
    """Does what an owner asks for, once, and says what came of it."""

    def __init__(self, settings: Settings, ledger: Ledger, desk: Desk, publisher: Publisher, tell: Listener) -> None:
        self._settings = settings
        self._ledger = ledger
        self._desk = desk
        self._publisher = publisher
        self._tell = tell

    def perform(self, request: Request | None) -> Answer:
        """Do what is asked for; what cannot be done is said in the answer."""
        if request is None:
            return _refused(say(Command.NOT_UNDERSTOOD).text)
        if request.destination is not None and request.destination not in self._settings.destinations:
            known = ", ".join(self._settings.destinations)
            return _refused(say(Command.NO_SUCH_DESTINATION, found=request.destination, known=known).text)
        match request.command:
            case "retry":
                return self._retry(request)
            case "withdraw":
                return self._withdraw(request)
            case "sweep":
                return self._sweep(request)
            case _:
                return _refused(say(Command.NOT_UNDERSTOOD).text)

    # Which originals

    def _named(self, path: str) -> list[OriginalRow]:
        """Return the originals that a path means: one, or all in a folder, where they lie, lay, or are filed away."""
        found: dict[int, OriginalRow] = {}
        named = Path(path)
        # The folder may be reached by another way than the config names; the file itself may be gone.
        for candidate in {named, named.parent.resolve() / named.name, named.resolve()}:
            for name, owner in self._settings.photographers.items():
                for drop in {owner.drop, owner.drop.resolve()}:
                    if candidate.is_relative_to(drop):
                        relative = candidate.relative_to(drop)
                        rows = self._ledger.originals_below(name, relative)
                        row = self._ledger.original_of(name, relative)
                        found |= {row.id: row for row in (*rows, *([row] if row else []))}
            found |= {row.id: row for row in self._ledger.originals_filed(candidate)}
        return [found[number] for number in sorted(found)]

    # Retry

    def _retry(self, request: Request) -> Answer:
        if not request.paths:
            held = [row for row in self._ledger.held() if row.photographer in self._settings.photographers]
            for row in held:
                self._ledger.retry(row.id)
            return Answer(lines=(say(Command.RETRIED, number=len(held)).text,))
        lines, status = [], 0
        for path in request.paths:
            rows = self._named(path)
            chosen = [row for row in rows if row.state is OriginalState.HELD or self._was_withdrawn(row)]
            for row in chosen:
                self._ledger.retry(row.id)
            if not rows:
                lines.append(say(Command.UNKNOWN, path=shown_path(Path(path))).text)
                status = USAGE
            elif not chosen:
                lines.append(say(Command.NOTHING_TO_RETRY, path=shown_path(Path(path))).text)
            lines += [say(Command.RETRIED_ONE, original=_shown(row)).text for row in chosen]
        return Answer(lines=tuple(lines), status=status)

    def _was_withdrawn(self, row: OriginalRow) -> bool:
        return any(delivery.state == "withdrawn" for delivery in self._ledger.deliveries_of(row.id))

    # Withdraw

    def _withdraw(self, request: Request) -> Answer:
        lines: list[str] = []
        status = 0
        for path in request.paths:
            rows = self._named(path)
            if not rows:
                lines.append(say(Command.UNKNOWN, path=shown_path(Path(path))).text)
                status = USAGE
            for row in rows:
                said, waits = self._withdraw_one(row, request.destination)
                lines += said
                status = status or (WAITS if waits else 0)
        return Answer(lines=tuple(lines), status=status)

    def _withdraw_one(self, row: OriginalRow, destination: str | None) -> tuple[list[str], bool]:
        lines: list[str] = []
        waits = False
        chosen = []
        for delivery in self._ledger.deliveries_of(row.id):
            if destination is not None and delivery.destination != destination:
                continue
            try:
                if delivery.intent is not None:
                    self._publisher.settle_intent(delivery)
            except PassingFaultError as fault:
                # Whether it stands cannot be told now. It is asked for again once its folder is back.
                lines.append(fault.said.text)
                waits = True
            else:
                chosen.append(delivery.id)
        self._ledger.withdraw(row.id, chosen)
        standing = [
            delivery
            for delivery in self._ledger.deliveries_of(row.id)
            if delivery.id in chosen and delivery.output is not None
        ]
        if not standing and not waits:
            lines.append(say(Command.NOTHING_STANDS, original=_shown(row)).text)
        for delivery in standing:
            said, is_away = self.take_back(row, delivery)
            lines.append(said)
            waits = waits or is_away
        return lines, waits

    def take_back(self, row: OriginalRow, delivery: DeliveryRow) -> tuple[str, bool]:
        """Delete the file of a delivery that is withdrawn; return what is to be said, and whether it has to wait."""
        assert delivery.output is not None
        path = shown_path(delivery.output.path)
        try:
            became = take_back(self._ledger, delivery)
        except PassingFaultError as fault:
            return say(Command.WITHDRAWN_LATER, path=path, reason=fault.said.text).text, True
        if became is TakenBack.CHANGED:
            return say(Command.CHANGED_STAYS, path=path).text, False
        self._tell(Withdrawn(original=_shown(row), destination=delivery.destination, output=path))
        word = Command.WITHDRAWN if became is TakenBack.DELETED else Command.WAS_AWAY
        return say(word, path=path).text, False

    def go_on(self) -> None:
        """Delete what an earlier request could not, because a folder was away."""
        for delivery in self._ledger.open_withdrawals():
            self.take_back(self._ledger.original(delivery.original), delivery)

    # Sweep

    def _sweep(self, request: Request) -> Answer:
        """Let what is touched be made again; what is new is done anyway."""
        count: Counter[str] = Counter()
        for touched in self.touched(request):
            self._ledger.redo(touched.original.id, (row.id for row in touched.deliveries))
            count["pictures"] += 1
            count["deliveries"] += len(touched.deliveries) + len(touched.new)
        if not (request.again or request.missing):
            return Answer(lines=(say(Command.LOOKS_NOW).text,))
        return Answer(lines=(say(Command.MADE_AGAIN, pictures=count["pictures"], deliveries=count["deliveries"]).text,))

    def touched(self, request: Request) -> Iterator[Touched]:
        """Yield the originals of which *request* wants something made again."""
        if not (request.again or request.missing):
            return
        scope = Scope(only=request.destination, since_ns=request.since_ns)
        for row in self._ledger.originals_with_deliveries():
            owner = self._settings.photographers.get(row.photographer)
            if owner is None or not scope.takes_file(row.fingerprint) or not (owner.drop / row.path).is_file():
                continue
            routing = self._desk.routing_at(row.photographer, row.path)
            if isinstance(routing, Routing):
                touched = self._touched(row, routing, request, scope)
                if touched.deliveries or touched.new:
                    yield touched

    def _touched(self, row: OriginalRow, routing: Routing, request: Request, scope: Scope) -> Touched:
        wanted = {
            (item.destination, item.density): item.recipe
            for item in wanted_by(self._settings, row.photographer, routing)
            if scope.takes_destination(item.destination)
        }
        chosen = []
        for delivery in self._ledger.deliveries_of(row.id):
            recipe = wanted.pop((delivery.destination, delivery.density), None)
            if recipe is None or delivery.state not in ("delivered", "left out"):
                continue
            is_missing = delivery.output is not None and _is_missing(delivery.output.path)
            if (request.missing and is_missing) or (request.again and not is_missing and recipe != delivery.recipe):
                chosen.append(delivery)
        new = tuple(dict.fromkeys(destination for destination, _ in wanted)) if request.again else ()
        return Touched(original=row, deliveries=tuple(chosen), new=new)


def _is_missing(path: Path) -> bool:
    """Return whether a delivery was deleted; where its whole folder is away, that cannot be told."""
    return path.parent.is_dir() and not os.path.lexists(path)


def _refused(text: str) -> Answer:
    return Answer(lines=(text,), status=USAGE)


def _shown(row: OriginalRow) -> str:
    return f"{row.photographer}: {shown_path(row.path)}"
