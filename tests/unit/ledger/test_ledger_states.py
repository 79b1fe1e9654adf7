"""The ledger as a state machine: whatever happens in whatever order, it never contradicts itself or the folders."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, consumes, invariant, rule

from lanternslide.ledger import DeliveryRow, Kept, Ledger, OriginalState, Published, Wanted
from lanternslide.records import DroppedFile, Fingerprint, Record
from lanternslide.words import Held, say

PICTURES = ("seal", "stack", "skerry")
PLACES = ("club", "journal")
RECORD = Record(original="x", photographer="ida", state="delivered", version="0")


class LedgerStates(RuleBasedStateMachine):
    """Originals come, change, are made, published, withdrawn and asked back; the service is killed in between.

    `folder` is what stands in the destinations: a dict in place of a file system, changed only where the service would
    rename or delete.
    """

    started = Bundle("started")

    def __init__(self) -> None:
        super().__init__()
        self._state = tempfile.TemporaryDirectory()
        self._ledger = Ledger(Path(self._state.name))
        self._digests: dict[str, str] = {}
        self.folder: dict[Path, str] = {}
        self.withdrawn: set[tuple[str, str, str]] = set()  # picture, digest, place: what must not stand
        self._number = 0

    def teardown(self) -> None:
        """Close the ledger."""
        self._ledger.__exit__(None, None, None)
        self._state.cleanup()

    def _fingerprint(self, name: str) -> Fingerprint:
        return Fingerprint(size=1, mtime_ns=int(self._digests[name]), inode=7)

    def _original(self, name: str) -> int | None:
        row = self._ledger.originals.of_picture("ida", Path(name))
        return None if row is None else row.id

    @rule(name=st.sampled_from(PICTURES))
    def export(self, name: str) -> None:
        """Drop a new export, and let it settle."""
        self._number += 1
        self._digests[name] = str(self._number)
        file = DroppedFile(
            photographer="ida", drop=Path("/drop"), relative=Path(name), fingerprint=self._fingerprint(name)
        )
        self._ledger.originals.take_in(file, Path(name))

    @rule(target=started, name=st.sampled_from(PICTURES), places=st.sets(st.sampled_from(PLACES), min_size=1))
    def survey(self, name: str, places: set[str]) -> tuple[str, str, tuple[DeliveryRow, ...]]:
        """Have a worker see an original; its deliveries are about to be made."""
        number = self._original(name)
        if number is None or self._ledger.originals.get(number).state in (OriginalState.HELD, OriginalState.WITHDRAWN):
            return name, "", ()
        wanted = [Wanted(destination=place, density=1, recipe="{}") for place in sorted(places)]
        for row in self._ledger.deliveries.of_original(number):
            self._settle(row)
        return name, self._digests[name], tuple(self._ledger.deliveries.want(number, self._digests[name], wanted))

    @rule(job=consumes(started), killed=st.sampled_from(["", "before", "after"]))
    def publish(self, job: tuple[str, str, tuple[DeliveryRow, ...]], killed: str) -> None:
        """Publish what was made, unless the original has changed; perhaps be killed."""
        name, digest, rows = job
        if not rows or digest != self._digests[name]:
            return
        for row in rows:
            (now,) = (found for found in self._ledger.deliveries.of_original(row.original) if found.id == row.id)
            if now.state != "waiting":
                continue
            path = Path("/out") / row.destination / f"{name}.jpg"
            self._ledger.deliveries.intend(
                row.id, Published(path=path, size=1, digest=digest), made_from=digest, kept=Kept(record=RECORD)
            )
            if killed == "before":
                return
            self.folder[path] = digest
            if killed == "after":
                return
            self._ledger.deliveries.confirm(row.id, "2026-11-25T12:00:00+00:00")
        self._ledger.originals.finish(rows[0].original)

    def _settle(self, row: DeliveryRow) -> None:
        if row.intent is None:
            return
        if self.folder.get(row.intent.path) == row.intent.digest:
            self._ledger.deliveries.confirm(row.id, "2026-11-25T12:00:00+00:00")
        else:
            self._ledger.deliveries.take_back_intent(row.id)

    @rule()
    def restart(self) -> None:
        """Start again: intents are settled, withdrawals finished, work given back."""
        self._ledger.__exit__(None, None, None)
        self._ledger = Ledger(Path(self._state.name))
        for row in self._ledger.deliveries.open_intents():
            self._settle(row)
        self._go_on()
        self._ledger.originals.give_back_work()
        assert not self._ledger.deliveries.open_intents()

    def _go_on(self) -> None:
        self._ledger.withdrawals.note_recalled()
        for row in self._ledger.withdrawals.open():
            assert row.output is not None
            if self.folder.get(row.output.path) == row.output.digest:
                del self.folder[row.output.path]
            self._ledger.withdrawals.note_withdrawn(row.id)

    @rule(name=st.sampled_from(PICTURES), place=st.sampled_from((*PLACES, None)))
    def withdraw(self, name: str, place: str | None) -> None:
        """Take a picture back, from one place or from all."""
        number = self._original(name)
        if number is None:
            return
        self._ledger.withdrawals.withdraw(number, place, self._fingerprint(name))
        for row in self._ledger.deliveries.of_original(number):
            if place in (None, row.destination):
                self._settle(row)
        self._go_on()
        for one in PLACES:
            if place in (None, one):
                self.withdrawn.add((name, self._digests[name], one))

    @rule(name=st.sampled_from(PICTURES))
    def retry(self, name: str) -> None:
        """Ask for a picture again."""
        number = self._original(name)
        if number is not None:
            self._ledger.withdrawals.retry(number)
            self.withdrawn = {found for found in self.withdrawn if found[0] != name}

    @rule(name=st.sampled_from(PICTURES))
    def hold(self, name: str) -> None:
        """Find something wrong with an original."""
        number = self._original(name)
        if number is not None and self._ledger.originals.get(number).state is OriginalState.WAITING:
            self._ledger.originals.hold(number, say(Held.EMPTY), "2026-11-26T09:00:00+00:00")

    @invariant()
    def no_fault_inside(self) -> None:
        """Check that the database is sound."""
        assert self._ledger.faults() == []

    @invariant()
    def everything_that_stands_is_known(self) -> None:
        """Check that every file belongs to a delivery, as its output or its intent: it can be taken back."""
        for path, digest in self.folder.items():
            owner = self._ledger.deliveries.owner_of(path)
            assert owner is not None, path
            assert digest in {found.digest for found in (owner.output, owner.intent) if found is not None}

    @invariant()
    def nothing_withdrawn_stands(self) -> None:
        """Check that what was taken back stands nowhere while its original has those bytes."""
        for name, digest, place in self.withdrawn:
            assert self.folder.get(Path("/out") / place / f"{name}.jpg") != digest or digest != self._digests[name]


TestLedgerStates = LedgerStates.TestCase
TestLedgerStates.settings = settings(max_examples=100, stateful_step_count=30, deadline=None)
