"""From what a worker has made to what stands: published, left out, or thrown away since it is wanted no more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from lanternslide.config import ResolvedPhotographer
from lanternslide.delivery import Filing, Publisher, Stamps, withdrawn_of
from lanternslide.errors import PassingFaultError
from lanternslide.intake import Decisions, OriginalFiles, held_for_writing
from lanternslide.ledger import Deliveries, DeliveryRow, DeliveryState
from lanternslide.records import (
    DeliveryTask,
    DroppedFile,
    Job,
    LeftOut,
    Made,
    Outcome,
    Stalled,
    SurveyedItem,
    Unrecognised,
)
from lanternslide.records.events import Delivered, Listener, Withdrawn
from lanternslide.report.obstacles import Obstacles
from lanternslide.words import Said

__all__ = ["Deliverer"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Deliverer:
    """Publishes what was made of an original."""

    photographers: Mapping[str, ResolvedPhotographer]
    deliveries: Deliveries
    decisions: Decisions
    files: OriginalFiles
    publisher: Publisher
    filing: Filing
    stamps: Stamps
    obstacles: Obstacles
    tell: Listener

    def is_outdated(self, item: SurveyedItem, job: Job, *, is_reread: bool) -> bool:
        """Return whether what was made is not what is wanted now: the original or the config has changed meanwhile.

        With *is_reread* the config was read again since the job was begun.

        Raises
        ------
        PassingFaultError
            If that cannot be told now.
        """
        file = item.file
        owner = self.photographers.get(file.photographer)
        if owner is None or owner.drop != file.drop:
            return True
        if is_reread:
            if self.decisions.routing_of(file) != item.routing:
                return True
            if self.publisher.are_outdated(item, job.deliveries):
                return True
        return not self.files.is_unchanged(file)

    def deliver(self, item: SurveyedItem, job: Job, outcomes: tuple[Outcome, ...]) -> Said | None:
        """Publish what a job has made; return what is in the way of some deliveries."""
        stalled: Said | None = None
        tasks = {task.delivery: task for task in job.deliveries}
        rows = {row.id: row for row in self.deliveries.of_original(item.original)}
        for outcome in outcomes:
            match outcome:
                case Made(delivery=number):
                    stalled = self._publish(item, tasks[number], rows[number], outcome) or stalled
                case LeftOut(delivery=number):
                    self._leave_out(item, rows[number])
                case Stalled(said=said):
                    stalled = said
                case Unrecognised():
                    raise AssertionError("only a repair has files looked for")
        return stalled

    def _publish(self, item: SurveyedItem, task: DeliveryTask, row: DeliveryRow, made: Made) -> Said | None:
        """Publish a delivery, unless its owner has withdrawn it meanwhile; return what is in the way."""
        if row.state == DeliveryState.WITHDRAWN:
            self.publisher.discard_one(task)
            return None
        try:
            record = self.publisher.publish(item, task, row, made)
        except PassingFaultError as fault:
            return fault.said
        for found in self.publisher.clear_replaced({}, row.id):  # what could not be deleted is after a scan
            self.tell(withdrawn_of(found))
        self.stamps.deliver(row.destination, is_older=item.is_older)
        self.tell(Delivered(record=record))
        return None

    def _leave_out(self, item: SurveyedItem, row: DeliveryRow) -> None:
        """Note that an original is too small for a delivery; what stands of it shows a former export, and goes."""
        self.deliveries.leave_out(row.id, item.survey.digest)
        for output in self.publisher.clear_left_out(item.original):
            self.tell(Withdrawn(original=item.file.shown, destination=row.destination, output=output))

    def discard(self, job: Job) -> None:
        """Delete what a job has made and that will not be published."""
        self.publisher.discard(job)

    def file_away(self, file: DroppedFile, original: int) -> None:
        """File a finished original away, if its owner wants that; if not possible now, the next scan finds it again."""
        if not self.filing.is_wanted(file.photographer):
            return
        what = f"{file.photographer}: filing"
        try:
            # What somebody writes into at this moment is about to be another export.
            if self.files.is_unchanged(file) and not held_for_writing(file.path):
                self.filing.file_away(file, original)
        except PassingFaultError as fault:
            self.obstacles.meet(what, fault.said)
        else:
            self.obstacles.pass_by(what)
