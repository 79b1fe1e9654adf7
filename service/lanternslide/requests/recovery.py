"""What a death or an absent folder has left open is finished: intents to publish, and what was taken back."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from lanternslide.config import ResolvedPhotographer
from lanternslide.delivery import Publisher, Reachability, TakenBack, take_back, withdrawn_of
from lanternslide.errors import PassingFaultError
from lanternslide.intake import Decisions
from lanternslide.ledger import DeliveryRow, Ledger, OriginalRow
from lanternslide.records import shown_path
from lanternslide.records.events import Delivered, Listener, Withdrawn
from lanternslide.storage import is_file_with, remove_delivery
from lanternslide.words import Command, Said, say, told

__all__ = ["Recovery"]


class Recovery:
    """Finishes what the ledger says was begun, when the service starts and whenever a folder may be back."""

    def __init__(
        self,
        photographers: Mapping[str, ResolvedPhotographer],
        ledger: Ledger,
        decisions: Decisions,
        publisher: Publisher,
        reachability: Reachability,
        tell: Listener,
    ) -> None:
        self._photographers = photographers
        self._ledger = ledger
        self._decisions = decisions
        self._publisher = publisher
        self._reachability = reachability
        self._tell = tell

    def recover(self) -> dict[str, Said]:
        """Finish what could not be, because a folder was away: open intents, and what was taken back.

        Return the destinations of which it still cannot be told what stands there, and why.
        """
        away: dict[str, Said] = {}
        for delivery in self._ledger.deliveries.open_intents():
            try:
                self.settle(delivery)
            except PassingFaultError as fault:
                away[delivery.destination] = fault.said
        for found in self._publisher.clear_replaced(away):
            self._tell(withdrawn_of(found))
        self._ledger.withdrawals.note_recalled()
        for delivery in self._ledger.withdrawals.open():
            self.take_back(self._ledger.originals.get(delivery.original), delivery)
        for row, destination in self._ledger.withdrawals.recalled_earlier():
            self.take_back_earlier(row, destination)
        return away

    def settle(self, delivery: DeliveryRow) -> None:
        """Find out whether a delivery whose intent stands open was renamed; note it as delivered, or as to be made.

        Raises
        ------
        PassingFaultError
            If its folder is away.
        """
        record = self._publisher.settle_intent(delivery)
        if record is not None:
            self._tell(Delivered(record=record))

    def take_back(self, row: OriginalRow, delivery: DeliveryRow) -> tuple[str, bool]:
        """Delete the file of a delivery that is withdrawn; return what is to be said, and whether it has to wait."""
        assert delivery.output is not None
        path = shown_path(delivery.output.path)
        try:
            moved_to = self._moved_to(row, delivery)
            path = shown_path(moved_to or delivery.output.path)
            became = take_back(self._ledger.withdrawals, self._reachability, delivery, moved_to)
        except PassingFaultError as fault:
            return say(Command.WITHDRAWN_LATER, path=path, reason=fault.said.text).text, True
        if became is TakenBack.CHANGED:
            return say(Command.CHANGED_STAYS, path=path).text, False
        self._tell(Withdrawn(original=row.shown, destination=delivery.destination, output=path))
        word = Command.WITHDRAWN if became is TakenBack.DELETED else Command.WAS_AWAY
        return say(word, path=path).text, False

    def _moved_to(self, row: OriginalRow, delivery: DeliveryRow) -> Path | None:
        if row.photographer not in self._photographers:
            return None
        routing = self._decisions.routing_at(row.photographer, row.path)
        return None if isinstance(routing, Said) else self._publisher.moved_to(row, routing, delivery)

    def take_back_earlier(self, row: OriginalRow, destination: str | None) -> tuple[list[str], bool]:
        """Delete what stands where a delivery is no longer put; return what is to be said, and whether it waits."""
        lines = []
        waits = False
        for name, published in self._ledger.deliveries.earlier_of(row.id):
            path = published.path
            if destination not in (None, name):
                continue
            try:
                self._reachability.check_file(path, name)
                if is_file_with(path, published.size, published.digest):
                    remove_delivery(path)
                    lines.append(say(Command.WITHDRAWN, path=path).text)
                    self._tell(Withdrawn(original=row.shown, destination=name, output=shown_path(path)))
            except (OSError, PassingFaultError) as error:
                reason = error.said.text if isinstance(error, PassingFaultError) else f"The system says: {told(error)}."
                lines.append(say(Command.WITHDRAWN_LATER, path=path, reason=reason).text)
                waits = True
            else:
                self._ledger.deliveries.forget_earlier(path)
        return lines, waits
