"""What a worker is asked: to survey an original, then to make what is left to make and has a folder that is ready."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from lanternslide.config import ResolvedPhotographer
from lanternslide.config.limits import Limits
from lanternslide.delivery import Publisher, recipes_for, wanted_by
from lanternslide.errors import PassingFaultError
from lanternslide.intake import findings_of
from lanternslide.ledger import Deliveries, DeliveryRow
from lanternslide.records import Job, Recipe, Scope, SurveyedItem, SurveyTask, WorkItem
from lanternslide.records.events import Delivered, Listener
from lanternslide.words import Said
from lanternslide.workers.executor import Order

__all__ = ["Planner"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Planner:
    """Knows what each original asks for."""

    photographers: Mapping[str, ResolvedPhotographer]
    deliveries: Deliveries
    limits: Limits
    publisher: Publisher
    scope: Scope
    tell: Listener

    def survey_of(self, item: WorkItem) -> Order:
        """Return the order to survey an original."""
        file = item.file
        task = SurveyTask(
            root=file.root,
            path=file.path,
            fingerprint=file.fingerprint,
            max_megapixels=self.limits.max_megapixels,
            wanted=self.recipes_for(item),
        )
        timeout = self.limits.survey_timeout(file.fingerprint.size)
        return Order(key=item.key, task=task, timeout=timeout, urgent=not item.is_older)

    def making_of(self, item: SurveyedItem, job: Job) -> Order:
        """Return the order to make an original's deliveries."""
        survey = job.survey
        timeout = self.limits.make_timeout(survey.width * survey.height / 1e6, len(job.deliveries))
        return Order(key=item.key, task=job, timeout=timeout, need_mib=survey.need_mib, urgent=not item.is_older)

    def recipes_for(self, item: WorkItem) -> tuple[tuple[Recipe, float], ...]:
        """Return all that may be made of an original: how, and at which density."""
        asked = recipes_for(self.photographers[item.file.photographer], item.routing)
        return tuple((destination.recipe, density) for destination, density in asked)

    def prepare_job(self, item: SurveyedItem) -> tuple[Job | None, Said | None]:
        """Note what an original asks for, and have the folders of what is still to be made ready.

        Returns the job that makes it, None if nothing is to be made, or can be now, and what is in the way of some
        deliveries.
        """
        rows, stalled = self.still_to_make(item)
        tasks = []
        for row in rows:
            if not self.scope.takes_destination(row.destination):
                continue
            try:
                tasks.append(self.publisher.task_for(item, row))
            except PassingFaultError as fault:
                stalled = fault.said
        return (item.job(tasks, findings_of(item.routing)) if tasks else None), stalled

    def still_to_make(self, item: SurveyedItem) -> tuple[list[DeliveryRow], Said | None]:
        """Settle an original's open intents and note what it asks for.

        Returns the deliveries that are not made from these bytes yet, and what is in the way where it cannot be told
        whether an earlier delivery was published; that one is left as it is.
        """
        stalled: Said | None = None
        for row in self.deliveries.of_original(item.original):
            try:
                record = self.publisher.settle_intent(row) if row.intent is not None else None
            except PassingFaultError as fault:
                stalled = fault.said
            else:
                if record is not None:
                    self.tell(Delivered(record=record))
        wanted = wanted_by(self.photographers[item.file.photographer], item.routing)
        return self.deliveries.want(item.original, item.survey.digest, wanted), stalled
