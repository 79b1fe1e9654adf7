"""From a surveyed original to its job: which deliveries are still to be made, and whether their folders are ready."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from lanternslide.config import ResolvedPhotographer
from lanternslide.delivery.publisher import Publisher
from lanternslide.delivery.recipes import recipes_for, wanted_by
from lanternslide.errors import PassingFaultError
from lanternslide.intake.decisions import findings_of
from lanternslide.ledger import Deliveries, DeliveryRow
from lanternslide.records import Job, Recipe, Scope, SurveyedItem, WorkItem
from lanternslide.records.events import Delivered, Listener
from lanternslide.words import Said

__all__ = ["Planner"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Planner:
    """Knows what each original asks for."""

    photographers: Mapping[str, ResolvedPhotographer]
    deliveries: Deliveries
    publisher: Publisher
    scope: Scope
    tell: Listener

    def recipes_for(self, item: WorkItem) -> tuple[tuple[Recipe, float], ...]:
        """Return all that may be made of an original: how, and at which density."""
        asked = recipes_for(self.photographers[item.file.photographer], item.routing)
        return tuple((destination.recipe, density) for destination, density in asked)

    def job_of(self, item: SurveyedItem) -> tuple[Job | None, Said | None]:
        """Return the job that makes what is still to be made of an original, None if nothing is, or can be now.

        With it comes what is in the way of some deliveries.
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
        """Return the deliveries that an original asks for and that are not made from these bytes yet.

        With them comes what is in the way where it cannot be told whether an earlier delivery was published; that
        one is left as it is.
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
