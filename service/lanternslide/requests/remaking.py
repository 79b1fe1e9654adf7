"""What is made again when its owner asks: which deliveries a changed config touches, and which were deleted."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from lanternslide.config import ResolvedPhotographer
from lanternslide.delivery import Publisher, Reachability, is_made_otherwise, wanted_by
from lanternslide.errors import PassingFaultError
from lanternslide.intake import Decisions, OriginalFiles
from lanternslide.ledger import DeliveryRow, DeliveryState, Ledger, OriginalRow
from lanternslide.records import Routing, Scope
from lanternslide.requests.request_folder import Request
from lanternslide.storage import is_file, is_there
from lanternslide.words import Held, counted

__all__ = ["Amount", "Remaking", "Touched"]

AT_ONCE = 100
"""Originals that are looked at between two of a service's rounds."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Touched:
    """An original of which something is to be made again."""

    original: OriginalRow
    deliveries: tuple[DeliveryRow, ...]  #: Those to be made again.
    new: tuple[str, ...] = ()  #: Destinations that it did not go to before.


@dataclass(slots=True)
class Amount:
    """Adds up how much is to be made or remade, and how long that took the last time."""

    pictures: int = 0
    deliveries: int = 0
    _known: list[float] = field(default_factory=list)

    def add(self, touched: Iterable[Touched]) -> None:
        """Add originals."""
        for one in touched:
            self.pictures += 1
            self.deliveries += len(one.deliveries) + len(one.new)
            self._known += [seconds for row in one.deliveries if (seconds := _seconds_of(row)) is not None]

    @property
    def shown(self) -> str:
        """How much it is, in words."""
        deliveries = counted(self.deliveries, "delivery", "deliveries")
        return f"{deliveries} of {counted(self.pictures, 'picture', 'pictures')}"

    def seconds(self, workers: int) -> float | None:
        """Return how long so many *workers* will take, in seconds; None if no record tells.

        Deliveries of which it is not known are taken to be like the others.
        """
        if not self._known:
            return None
        return sum(self._known) / len(self._known) * self.deliveries / workers


def _seconds_of(row: DeliveryRow) -> float | None:
    found = None if row.record is None else json.loads(row.record).get("seconds")
    return None if found is None else float(found)


class Remaking:
    """Finds what a request wants to be made again."""

    def __init__(
        self,
        photographers: Mapping[str, ResolvedPhotographer],
        ledger: Ledger,
        decisions: Decisions,
        publisher: Publisher,
        reachability: Reachability,
    ) -> None:
        self._photographers = photographers
        self._older = ledger.older
        self._deliveries = ledger.deliveries
        self._decisions = decisions
        self._files = OriginalFiles(
            photographers=photographers,
            originals=ledger.originals,
            deliveries=ledger.deliveries,
            answers=reachability.answers,
        )
        self._publisher = publisher
        self._reachability = reachability

    def touched(self, request: Request) -> Iterator[list[Touched]]:
        """Yield the originals of which *request* wants something made again, in parts.

        So many are looked at for each part, and it may be empty: there is time for something else between two.
        """
        if not (request.again or request.missing):
            return
        scope = Scope(only=request.destination, since_ns=request.since_ns)
        after = -1
        while rows := self._older.with_deliveries(after, AT_ONCE):
            after = rows[-1].id
            found = [self._of_original(row, request, scope) for row in rows]
            yield [touched for touched in found if touched is not None]

    def _of_original(self, row: OriginalRow, request: Request, scope: Scope) -> Touched | None:
        owner = self._photographers.get(row.photographer)
        if owner is None or not scope.takes_file(row.fingerprint) or row.reason_key == Held.OWN_DELIVERY:
            return None
        routing = self._decisions.routing_at(row.photographer, row.path)
        if not isinstance(routing, Routing):
            return None
        touched = self._touched(row, routing, request, scope)
        return touched if (touched.deliveries or touched.new) and self._is_there(row) else None

    def _is_there(self, row: OriginalRow) -> bool:
        """Return whether an original can be made again, from the drop folder or from where it is filed away."""
        drop = self._photographers[row.photographer].drop
        if self._reachability.answers(drop) and is_file(drop / row.path):
            return True
        filed_to = row.filed_to
        return (
            filed_to is not None and self._reachability.answers(filed_to.parent) and self._files.filed(row) is not None
        )

    def _touched(self, row: OriginalRow, routing: Routing, request: Request, scope: Scope) -> Touched:
        wanted = {
            (item.destination, item.density): item.recipe
            for item in wanted_by(self._photographers[row.photographer], routing)
            if scope.takes_destination(item.destination)
        }
        chosen = []
        deliveries = self._deliveries.of_original(row.id)
        for delivery in deliveries:
            recipe = wanted.pop((delivery.destination, delivery.density), None)
            if recipe is None or delivery.state not in (DeliveryState.DELIVERED, DeliveryState.LEFT_OUT):
                continue
            is_missing = delivery.output is not None and self._is_missing(delivery)
            is_other = is_made_otherwise(delivery, recipe) or self._publisher.is_elsewhere(row.photographer, delivery)
            if (request.missing and is_missing) or (request.again and not is_missing and is_other):
                chosen.append(delivery)
        # What was taken back from a destination stays away in other densities too.
        back = {delivery.destination for delivery in deliveries if delivery.state == DeliveryState.WITHDRAWN}
        new = tuple(dict.fromkeys(name for name, _ in wanted if name not in back)) if request.again else ()
        return Touched(original=row, deliveries=tuple(chosen), new=new)

    def _is_missing(self, delivery: DeliveryRow) -> bool:
        """Return whether a delivery was deleted; where its whole folder is away, that cannot be told."""
        assert delivery.output is not None
        if self._reachability.answers(delivery.output.path.parent) and is_there(delivery.output.path):
            return False
        try:
            self._reachability.check_file(delivery.output.path, delivery.destination)
        except PassingFaultError:
            return False
        return not is_there(delivery.output.path)
