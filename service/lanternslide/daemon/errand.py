"""One original on its way through survey and make, as the main process sees it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from lanternslide.records import DeliveryTask, DroppedFile, Job, Routing, Survey
from lanternslide.words import Said

__all__ = ["Errand", "Key"]

Key = tuple[str, Path]
"""A photographer and a picture: one errand at a time for each."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Errand:
    """One original on its way."""

    file: DroppedFile
    routing: Routing
    original: int  #: Its number in the ledger.
    survey: Survey | None = None  #: Once it was surveyed.
    is_older: bool = False  #: It was delivered as it is and is made again: after all that is fresh.

    @property
    def key(self) -> Key:
        """What is done one at a time."""
        return self.file.photographer, self.routing.picture

    @property
    def queues_for(self) -> tuple[str, ...]:
        """The destinations whose queue it is in; older work is in none, so that what is fresh is known to be done."""
        return () if self.is_older else self.routing.destinations

    def job(self, survey: Survey, tasks: Iterable[DeliveryTask], findings: tuple[Said, ...]) -> Job:
        """Return what a worker is given to make the deliveries *tasks*."""
        return Job(
            original=self.original,
            photographer=self.file.photographer,
            root=self.file.root,
            path=self.file.path,
            fingerprint=self.file.fingerprint,
            survey=survey,
            deliveries=tuple(tasks),
            findings=findings,
        )
