"""From encoded files under temporary names to deliveries in their folders, with the ledger's intent in between."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from lanternslide import __version__
from lanternslide.config import ResolvedDestination, ResolvedPhotographer
from lanternslide.delivery.name_patterns import folder_called, uses_date
from lanternslide.delivery.naming import delivered_names, is_name_of
from lanternslide.delivery.reachability import Reachability
from lanternslide.delivery.strangers import ANY_DATE, Strangers
from lanternslide.delivery.target_names import TargetNames, day_of_file, name_of
from lanternslide.delivery.withdrawing import TakenBack, take_back
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import DeliveryRow, DeliveryState, Kept, Ledger, OriginalRow, Published, Replaced
from lanternslide.records import (
    DeliveryTask,
    Job,
    Made,
    Record,
    Routing,
    SurveyedItem,
    TracedPlan,
    WorkItem,
    shown_path,
)
from lanternslide.storage import (
    is_temporary_of,
    publish_new,
    publish_over,
    ready_folder,
    remove_delivery,
    remove_temporary,
    set_mode,
    temporary_name,
)
from lanternslide.words import Doubt, Note, Said, is_said, say

__all__ = ["Publisher"]

LOWEST_DENSITY = 1
"""The lowest density that there is."""

OF_ONE_FILE = frozenset({Doubt.NAME_TAKEN, Doubt.OVER_BYTES, Doubt.UNLIKE, Doubt.RECOGNISED_ALIKE, Note.RECOGNISED})
"""What is said of each density for itself."""


class Publisher:
    """Puts deliveries into their folders, each once, and says so in the ledger."""

    def __init__(
        self,
        photographers: Mapping[str, ResolvedPhotographer],
        ledger: Ledger,
        reachability: Reachability,
        proofs_of: Callable[[str], Path | None] | None = None,
    ) -> None:
        self._photographers = photographers
        self._ledger = ledger
        self._proofs_of = proofs_of or (lambda _photographer: None)
        self._reachability = reachability
        self._names = TargetNames(ledger.originals, ledger.deliveries, reachability)
        self._strangers = Strangers(ledger.deliveries)
        # A worker that outlives its service must not write where the next one's does.
        self._run = f"{ledger.name}-{secrets.token_hex(2)}"

    def task_for(self, item: WorkItem, row: DeliveryRow) -> DeliveryTask:
        """Return what a worker needs to know to make the delivery *row*; its folder is ready then.

        Raises
        ------
        PassingFaultError
            If the folder is not there or cannot be used.
        """
        destination = self._photographers[item.file.photographer].destinations[row.destination]
        folder = self._folder(item, destination)
        return DeliveryTask(
            delivery=row.id,
            destination=row.destination,
            density=row.density,
            recipe=destination.recipe,
            temporary=folder / temporary_name(self._run, row.id),
            proofs=self._proofs_of(item.file.photographer),
        )

    def _folder(self, item: WorkItem, destination: ResolvedDestination) -> Path:
        folder, name = destination.folder, destination.name
        place = _place_for(destination, item.routing)
        self._reachability.check(folder, name)
        # A disk may be mounted below a destination's folder too.
        self._reachability.check(place, name)
        ready = ready_folder(
            destination.fixed_folder, folder, place.relative_to(folder),
            destination=name, used=self._reachability.has_used(folder),
        )  # fmt: skip
        self._reachability.use(folder)
        self._reachability.use(ready)
        return ready

    def publish(self, item: SurveyedItem, task: DeliveryTask, row: DeliveryRow, made: Made) -> Record:
        """Put a delivery under its name and return its record.

        Raises
        ------
        PassingFaultError
            If the folder is away or does not take it. An intent stays open then: whether the rename has happened is
            found out before the next try.
        """
        if uses_date(task.recipe.name) and made.captured is None:
            made = replace(made, findings=(*made.findings, say(Note.DATE_OF_FILE, date=day_of_file(item.file))))
        try:
            return self._publish(item, task, row, made)
        except PassingFaultError:
            remove_temporary(task.temporary)
            raise

    def _publish(self, item: SurveyedItem, task: DeliveryTask, row: DeliveryRow, made: Made) -> Record:
        folder = task.temporary.parent
        self._reachability.check(folder, row.destination)
        size = made.figures.width, made.figures.height
        called, ending = name_of(item.file, item.routing, task.destination, task.recipe, size, made.captured)
        call = called, task.density, ending
        name = next(delivered_names(*call))
        set_mode(task.temporary, self._photographers[item.file.photographer].destinations[row.destination].mode)
        for path in self._strangers.first(folder, call) if row.output is None else ():
            if self._names.stands(Published(path=path, size=made.bytes, digest=made.digest)):
                remove_temporary(task.temporary)
                made = replace(made, findings=(*made.findings, say(Note.RECOGNISED)))
                return self._confirmed(row.id, self._intend(item, row, made, path, name))
        for target in self._names.of(item.file, item.routing.picture, row, folder, call):
            record = self._intend(item, row, made, target.path, name, inherits=target.inherits)
            if target.over:
                publish_over(task.temporary, target.path)
                record = self._confirmed(row.id, record)
                if target.moved_from is not None:
                    self._ledger.deliveries.forget_earlier(target.moved_from)
                return record
            if publish_new(task.temporary, target.path):
                return self._confirmed(row.id, record, is_first=target.is_first)
        raise AssertionError("numbers do not end")

    def recognise(self, item: SurveyedItem, row: DeliveryRow, made: Made, others: Iterable[Path] = ()) -> Path | None:
        """Note a delivery as standing that stands already, as another ledger has put it there.

        Where that file is another delivery's by now, one of the *others* with the same bytes will do. Returns which it
        is; None where there is none, or their names have another date than the picture.

        Raises
        ------
        PassingFaultError
            If its folder cannot be believed.
        """
        assert made.standing is not None
        destination = self._photographers[item.file.photographer].destinations[row.destination]
        size = made.figures.width, made.figures.height
        called, ending = name_of(item.file, item.routing, row.destination, destination.recipe, size, made.captured)
        same = (
            path for path in others if self._names.stands(Published(path=path, size=made.bytes, digest=made.digest))
        )
        for path in (made.standing, *same):
            is_own = row.output is not None and row.output.path == path
            if is_own or (is_name_of(path.name, called, row.density, ending) and self._strangers.is_unknown(path)):
                break
        else:
            return None
        self._reachability.check(path.parent, row.destination)
        self._reachability.use(path.parent)
        self._reachability.use(destination.folder)
        name = next(delivered_names(called, row.density, ending))
        stood_since = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        self._confirmed(row.id, self._intend(item, row, made, path, name), at=stood_since)
        return path

    def strangers_for(self, item: WorkItem, plan: TracedPlan, row: DeliveryRow | None) -> list[Path]:
        """Return the files that may be a delivery and that the ledger, which knows *row* of it, does not know.

        Raises
        ------
        PassingFaultError
            If the folder does not answer or is away.
        """
        destination = self._photographers[item.file.photographer].destinations[plan.destination]
        place = _place_for(destination, item.routing)
        self._reachability.check(destination.folder, destination.name)
        size = plan.width, plan.height
        recipe = destination.recipe
        is_dated = uses_date(recipe.name)
        captured = ANY_DATE if is_dated else None
        called, ending = name_of(item.file, item.routing, destination.name, recipe, size, captured)
        return self._strangers.may_be(row, place, (called, plan.density, ending), is_dated=is_dated)

    def moved_to(self, original: OriginalRow, routing: Routing, row: DeliveryRow) -> Path | None:
        """Return where a delivery stands now, if its owner has moved its folder and the config names the new one."""
        destination = self._destination(original.photographer, row.destination)
        if destination is None:
            return None
        folder = _place_for(destination, routing)
        return self._names.moved(row, folder) if self._reachability.answers(folder) else None

    def is_elsewhere(self, photographer: str, row: DeliveryRow) -> bool:
        """Return whether a delivery stands outside the folder that its destination has now."""
        folder = self._photographers[photographer].destinations[row.destination].folder
        return row.output is not None and not row.output.path.is_relative_to(folder)

    def _intend(
        self, item: SurveyedItem, row: DeliveryRow, made: Made, path: Path, name: str, *, inherits: bool = False
    ) -> Record:
        if inherits:
            made = replace(made, findings=(*made.findings, say(Doubt.NAME_INHERITED)))
        if path.name != name:
            taken = say(Doubt.NAME_TAKEN, taken=shown_path(Path(name)), given=shown_path(Path(path.name)))
            made = replace(made, findings=(*made.findings, taken))
        made = self._once(item, row, made)
        record = _record(item, row, made, path)
        intent = Published(path=path, size=made.bytes, digest=made.digest)
        kept = Kept(record=record, about=made.about, shown=made.shown)
        self._ledger.deliveries.intend(row.id, intent, made_from=item.survey.digest, kept=kept, inherits=inherits)
        return record

    def _once(self, item: SurveyedItem, row: DeliveryRow, made: Made) -> Made:
        """Leave out what a lower density of the same picture says already, but for what is true of one file alone."""
        if row.density <= LOWEST_DENSITY:
            return made
        said = [
            text
            for other in self._ledger.deliveries.of_original(item.original)
            if other.destination == row.destination and other.density < row.density
            if other.made_from == item.survey.digest and other.record is not None
            for text in _texts_in(other.record)
        ]
        kept = tuple(
            finding for finding in made.findings
            if finding.key in OF_ONE_FILE or not any(is_said(finding.key, text) for text in said)
        )  # fmt: skip
        return replace(made, findings=kept)

    def _confirmed(
        self, delivery: int, record: Record, *, is_first: bool = False, at: datetime | None = None
    ) -> Record:
        """Note that a delivery stands, now or since *at*; return its record. *is_first*: nothing is left behind."""
        delivered_at = (at or datetime.now(UTC)).isoformat(timespec="seconds")
        note = self._ledger.deliveries.confirm_first if is_first else self._ledger.deliveries.confirm
        note(delivery, delivered_at)
        return record.model_copy(update={"delivered_at": delivered_at})

    def clear_replaced(self, away: dict[str, Said], delivery: int | None = None) -> Iterator[Replaced]:
        """Delete what a delivery (or any) has left under a former name in its destination's folder, and yield that.

        What it has left where its destination had another folder stays, until it is withdrawn. Destinations where that
        is not possible now are noted in *away*, with the reason; it is tried again after the next scan.
        """
        for found in self._ledger.deliveries.replaced(delivery):
            destination = self._destination(found.photographer, found.destination)
            if destination is None or not all(
                path.is_relative_to(destination.folder) for path in (found.left.path, found.stands)
            ):
                continue
            try:
                self._reachability.check_file(found.left.path, found.destination)
                if self._names.stands(found.left):
                    remove_delivery(found.left.path)
                    yield found
            except PassingFaultError as fault:
                away[found.destination] = fault.said
            else:
                self._ledger.deliveries.forget_earlier(found.left.path)

    def clear_left_out(self, original: int) -> Iterator[str]:
        """Delete what stands of densities that an original is too small for now, and yield where that was.

        Where it is not possible now, it is tried again after the next scan.
        """
        for row in self._ledger.deliveries.of_original(original):
            if row.state == DeliveryState.LEFT_OUT and row.output is not None:
                with suppress(PassingFaultError):
                    if take_back(self._ledger.withdrawals, self._reachability, row) is TakenBack.DELETED:
                        yield shown_path(row.output.path)

    def _destination(self, photographer: str, name: str) -> ResolvedDestination | None:
        """Return a destination as it is now; None if there is no such destination any more."""
        owner = self._photographers.get(photographer)
        return None if owner is None else owner.destinations.get(name)

    def are_outdated(self, item: WorkItem, tasks: Iterable[DeliveryTask]) -> bool:
        """Return whether deliveries were made otherwise, or for another folder, than the config says now."""
        for task in tasks:
            destination = self._destination(item.file.photographer, task.destination)
            if destination is None or task.recipe != destination.recipe or task.density not in destination.densities:
                return True
            if task.temporary.parent != _place_for(destination, item.routing):
                return True
        return False

    def discard(self, job: Job) -> None:
        """Delete what a job has made and that will not be published."""
        for task in job.deliveries:
            self.discard_one(task)

    def discard_one(self, task: DeliveryTask) -> None:
        """Delete one delivery that was made and will not be published."""
        remove_temporary(task.temporary)

    def settle_intent(self, row: DeliveryRow) -> Record | None:
        """Find out whether the rename that *row* intended has happened; return the record of the delivery if so.

        Raises
        ------
        PassingFaultError
            If that cannot be told now, because the folder is away. Where its destination has another folder now, the
            delivery is made there all the same.
        """
        assert row.intent is not None
        try:
            self._reachability.check_file(row.intent.path, row.destination)
        except PassingFaultError:
            destination = self._destination(self._ledger.originals.get(row.original).photographer, row.destination)
            if destination is None or row.intent.path.is_relative_to(destination.folder):
                raise
            self._ledger.deliveries.set_aside_intent(row.id)
            return None
        if self._names.stands(row.intent):
            assert row.record is not None
            return self._confirmed(row.id, Record.model_validate_json(row.record))
        self._ledger.deliveries.take_back_intent(row.id)
        return None

    def sweep_temporaries(self) -> None:
        """Delete what an earlier run left under temporary names in the folders that were used."""
        for folder in sorted(self._ledger.folders.used()):
            if not self._reachability.answers(folder):
                continue
            try:
                names = [entry.name for entry in folder.iterdir()]
            except OSError:
                continue  # away; what lies there is swept at a later start
            for name in names:
                if is_temporary_of(self._ledger.name, name):
                    remove_temporary(folder / name)


def _place_for(destination: ResolvedDestination, routing: Routing) -> Path:
    """Return the folder that an original's delivery goes into."""
    return destination.folder / folder_called(routing.folder, slug=destination.recipe.slug)


def _texts_in(stored: str) -> tuple[str, ...]:
    """Return the doubts and notes of a record as the ledger keeps it."""
    record = Record.model_validate_json(stored)
    return (*record.doubts, *record.notes)


def _record(item: SurveyedItem, row: DeliveryRow, made: Made, path: Path) -> Record:
    original = {"bytes": item.file.fingerprint.size, "digest": item.survey.digest}
    return Record.measured(
        made.figures,
        {
            "original": shown_path(item.file.relative),
            "photographer": item.file.photographer,
            "destination": row.destination,
            "density": row.density,
            "state": "delivered",
            "output": shown_path(path),
            "digest": made.digest,
            "bytes": made.bytes,
            "original_file": made.figures.original_file.model_copy(update=original),
            "doubts": tuple(doubt.text for doubt in made.doubts),
            "notes": tuple(note.text for note in made.notes),
            "version": __version__,
        },
    )
