"""What errands are worked on with, and what is known of one that is under way."""

from __future__ import annotations

from dataclasses import dataclass

from lanternslide.config import Settings
from lanternslide.daemon.desk import Desk
from lanternslide.daemon.errand import Errand
from lanternslide.daemon.executor import Order
from lanternslide.daemon.filing import Filing
from lanternslide.daemon.limits import Limits
from lanternslide.daemon.lookout import Lookout
from lanternslide.daemon.publisher import Publisher
from lanternslide.records import Job, SurveyTask
from lanternslide.words import Said

__all__ = ["Running", "Tools"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Tools:
    """What the work is done with; made anew when the config is read again."""

    settings: Settings
    limits: Limits
    desk: Desk
    publisher: Publisher
    filing: Filing
    lookout: Lookout

    def survey_of(self, errand: Errand) -> Order:
        """Return the order to survey an errand's original."""
        file = errand.file
        task = SurveyTask(
            root=file.root,
            path=file.path,
            fingerprint=file.fingerprint,
            max_megapixels=self.limits.max_megapixels,
            wanted=self.desk.recipes_for(errand),
        )
        timeout = self.limits.survey_timeout(file.fingerprint.size)
        return Order(key=errand.key, name="survey", task=task, timeout=timeout, urgent=not errand.is_older)

    def making_of(self, errand: Errand, job: Job) -> Order:
        """Return the order to make an errand's deliveries."""
        survey = job.survey
        timeout = self.limits.make_timeout(survey.width * survey.height / 1e6, len(job.deliveries))
        return Order(
            key=errand.key,
            name="make",
            task=job,
            timeout=timeout,
            need_mib=survey.need_mib,
            urgent=not errand.is_older,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Running:
    """An errand that a worker has, or that waits for room."""

    errand: Errand
    reading: int  #: Which reading of the config it was begun under.
    job: Job | None = None  #: Once its deliveries are being made, or wait for room in memory.
    stalled: Said | None = None  #: Why some of its deliveries were not even begun.
