"""What a sweep would do; reads, and writes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from lanternslide.config import Settings, resolve
from lanternslide.intake import Decisions, scan
from lanternslide.ledger import Known, Ledger, OriginalState
from lanternslide.records import DroppedFile, Routing, Scope
from lanternslide.records.events import nobody
from lanternslide.requests import Amount, Request, Touched, commands_alone
from lanternslide.words import told

__all__ = ["Would", "rehearse"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Would:
    """What would be done with one original."""

    original: str  #: Photographer and path, safe to print.
    why: str  #: A word or two.
    destinations: tuple[str, ...] = ()  #: Where it would be delivered.
    held: str | None = None  #: Why it would be held.


def rehearse(settings: Settings, ledger: Ledger, request: Request, amount: Amount) -> Iterator[Would]:
    """Yield what a sweep would do, original by original, and add up in *amount* what would be made again."""
    decisions = Decisions(resolve(settings), ledger.originals, ledger.deliveries, nobody)
    scope = Scope(only=request.destination, since_ns=request.since_ns)
    seen: set[tuple[str, Path]] = set()
    for name, owner in settings.photographers.items():
        known = {row.path: row for row in ledger.originals.below(name, Path())}
        try:
            files = list(scan(name, owner.drop))
        except OSError as error:
            yield Would(original=f"{name}: {owner.drop}", why=f"cannot be listed ({told(error)})")
            continue
        for file in files:
            row = known.get(file.relative)
            if scope.takes_file(file.fingerprint) and decisions.is_news(file, row.known if row else None):
                would = _would(decisions, file, row.known if row else None, scope)
                if would is not None:
                    seen.add((name, file.relative))
                    yield would
    for part in commands_alone(settings, ledger).again.touched(request):
        amount.add(part)
        yield from (_again(touched, request) for touched in part if _key(touched) not in seen)


def _key(touched: Touched) -> tuple[str, Path]:
    return touched.original.photographer, touched.original.path


def _again(touched: Touched, request: Request) -> Would:
    row = touched.original
    why = "to remake" if request.again else "missing"
    places = (*(delivery.destination for delivery in touched.deliveries), *touched.new)
    shown = row.shown
    return Would(original=shown, why=why, destinations=tuple(dict.fromkeys(places)))


def _would(decisions: Decisions, file: DroppedFile, known: Known | None, scope: Scope) -> Would | None:
    routing = decisions.routing_of(file)
    why = "new" if known is None else "waits" if known.state is OriginalState.WAITING else "changed"
    if not isinstance(routing, Routing):
        return None if scope.only else Would(original=file.shown, why=why, held=routing.text)
    places = tuple(name for name in routing.destinations if scope.takes_destination(name))
    return Would(original=file.shown, why=why, destinations=places) if places else None
