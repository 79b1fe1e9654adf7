"""The parts of the service that depend on the settings: all are made anew for each reading of the config."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from lanternslide.config import ResolvedPhotographer, Settings, resolve
from lanternslide.config.limits import Limits
from lanternslide.daemon.backlog import Backlog
from lanternslide.daemon.delivering import Deliverer
from lanternslide.daemon.pictures import Pictures
from lanternslide.daemon.planning import Planner
from lanternslide.daemon.transitions import Transitions
from lanternslide.delivery import Filing, HeldNotes, Manifests, Publisher, Reachability
from lanternslide.delivery.proof_sheets import ProofSheets, sheets_by
from lanternslide.intake import Decisions, DropScanner, OriginalFiles, ScanContext
from lanternslide.ledger import Ledger
from lanternslide.records import Scope
from lanternslide.records.events import Listener
from lanternslide.report.obstacles import Obstacles
from lanternslide.requests import OwnerCommands, Recovery, Remaking
from lanternslide.storage.probe import Probe

__all__ = ["Lasting", "Parts", "parts_for"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Lasting:
    """What lasts longer than a reading of the config."""

    ledger: Ledger
    pictures: Pictures
    scope: Scope
    probe: Probe
    reachability: Reachability
    obstacles: Obstacles
    tell: Listener
    tick: Callable[[], None]  #: Is called for each file that a scan looks at.


@dataclass(frozen=True, kw_only=True, slots=True)
class Parts:
    """What one reading of the config makes."""

    decisions: Decisions
    scanner: DropScanner
    backlog: Backlog
    transitions: Transitions
    publisher: Publisher
    deliverer: Deliverer
    recovery: Recovery
    commands: OwnerCommands
    notes: HeldNotes
    manifests: Manifests
    proofs: ProofSheets


def parts_for(settings: Settings, limits: Limits, reading: int, lasting: Lasting) -> Parts:
    """Return the parts that go by *settings*; *reading* is which reading of the config it is."""
    ledger, reachability, tell = lasting.ledger, lasting.reachability, lasting.tell
    photographers = resolve(settings)
    decisions = Decisions(photographers, ledger.originals, ledger.deliveries, tell)
    files = OriginalFiles(
        photographers=photographers,
        originals=ledger.originals,
        deliveries=ledger.deliveries,
        answers=lasting.probe.answers,
    )
    filing = Filing(photographers, ledger.originals, lasting.probe, tell)
    proofs = ProofSheets(sheets_by(settings, photographers), ledger, lasting.obstacles, lasting.probe, tell)
    publisher = Publisher(photographers, ledger, reachability, proofs_of=proofs.folder_for)
    recovery = Recovery(photographers, ledger, decisions, publisher, reachability, tell)
    remaking = Remaking(photographers, ledger, decisions, publisher, reachability)
    context = ScanContext(
        limits=limits,
        watch=settings.service.watch,
        decisions=decisions,
        files=files,
        in_hand=lasting.pictures.is_in_hand,
        in_scope=lasting.scope.takes_file,
        answers=lasting.probe.answers,
        read=lasting.probe.read,
        is_filed=filing.is_wanted,
        tick=lasting.tick,
    )
    deliverer = Deliverer(
        photographers=photographers,
        deliveries=ledger.deliveries,
        decisions=decisions,
        files=files,
        publisher=publisher,
        filing=filing,
        stamps=lasting.pictures.stamps,
        obstacles=lasting.obstacles,
        tell=tell,
    )
    return Parts(
        decisions=decisions,
        scanner=DropScanner(photographers, ledger.originals, context, lasting.obstacles, tell),
        backlog=Backlog(photographers, ledger.older, lasting.scope, context, tell),
        transitions=_transitions(photographers, limits, reading, lasting, deliverer),
        publisher=publisher,
        deliverer=deliverer,
        recovery=recovery,
        commands=OwnerCommands(settings, ledger, decisions, reachability, recovery, remaking),
        notes=HeldNotes(photographers, ledger.reading, lasting.obstacles, lasting.probe),
        manifests=Manifests(photographers, ledger.deliveries, reachability, lasting.obstacles),
        proofs=proofs,
    )


def _transitions(
    photographers: Mapping[str, ResolvedPhotographer],
    limits: Limits,
    reading: int,
    lasting: Lasting,
    deliverer: Deliverer,
) -> Transitions:
    planner = Planner(
        photographers=photographers,
        deliveries=lasting.ledger.deliveries,
        limits=limits,
        publisher=deliverer.publisher,
        scope=lasting.scope,
        tell=lasting.tell,
    )
    return Transitions(
        reading=reading,
        attempts=limits.attempts,
        planner=planner,
        deliverer=deliverer,
        backoff=lasting.pictures.backoff,
        originals=lasting.ledger.originals,
        tell=lasting.tell,
    )
