"""One original on its way, as the main process sees it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from lanternslide.records.files import DroppedFile
from lanternslide.records.job import DeliveryTask, Job, Survey
from lanternslide.records.routing import Routing
from lanternslide.words import Said

__all__ = ["Key", "SurveyedItem", "WorkItem"]

Key = tuple[str, Path]
"""A photographer and a picture: one work item at a time for each."""


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkItem:
    """One original on its way."""

    file: DroppedFile  #: As it had settled.
    routing: Routing  #: Where it goes; decided once.
    original: int  #: Its number in the ledger.
    is_older: bool = False  #: It was delivered as it is and is made again: after all that is fresh.

    @property
    def key(self) -> Key:
        """What is done one at a time."""
        return self.file.photographer, self.routing.picture

    @property
    def queues_for(self) -> tuple[str, ...]:
        """The destinations whose queue it is in; older work is in none, so that what is fresh is known to be done."""
        return () if self.is_older else self.routing.destinations

    def surveyed(self, survey: Survey) -> SurveyedItem:
        """Return it with what a survey has found."""
        return SurveyedItem(
            file=self.file, routing=self.routing, original=self.original, is_older=self.is_older, survey=survey
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class SurveyedItem(WorkItem):
    """One original of which it is known what it is."""

    survey: Survey  #: What it is.

    def job(self, tasks: Iterable[DeliveryTask], findings: tuple[Said, ...]) -> Job:
        """Return what a worker is given to make the deliveries *tasks*."""
        return Job(
            original=self.original,
            photographer=self.file.photographer,
            root=self.file.root,
            path=self.file.path,
            fingerprint=self.file.fingerprint,
            survey=self.survey,
            deliveries=tuple(tasks),
            findings=findings,
        )
