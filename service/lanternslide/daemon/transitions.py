"""What follows a stage that a worker has answered: `conclude` has every case on one screen."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import assert_never

from lanternslide.daemon.delivering import Deliverer
from lanternslide.daemon.planning import Planner
from lanternslide.daemon.stages import (
    Ending,
    Finish,
    Hold,
    LetGo,
    LookAgain,
    Making,
    Resting,
    Stage,
    Surveying,
    TryAgain,
    WaitingForMemory,
)
from lanternslide.errors import OriginalHeldError, PassingFaultError
from lanternslide.ledger import Originals
from lanternslide.records import Changed, JobDone, Refused, Result, Stalled, Survey, Traced, WorkItem
from lanternslide.records.events import Failed, Listener
from lanternslide.records.ring import Ringed
from lanternslide.words import Held, Passing, Said, say
from lanternslide.workers.backoff import Backoff
from lanternslide.workers.executor import Admission, AttemptFailed, NotBegun

__all__ = ["Transitions"]


@dataclass(frozen=True, kw_only=True)
class Transitions:
    """Takes a stage and an answer to the next stage or to an ending; made anew for each reading of the config."""

    reading: int  #: Which one it is.
    attempts: int  #: So many failed attempts hold an original.
    planner: Planner
    deliverer: Deliverer
    backoff: Backoff  #: How often each picture has rested; lasts longer than a reading.
    originals: Originals
    tell: Listener

    def conclude(  # noqa: C901 - every case on one screen
        self,
        stage: Surveying | Making,
        result: Result | AttemptFailed | NotBegun,
        admission: Admission,
        *,
        is_stopping: bool,
    ) -> Stage | Ending:
        """Conclude *stage*, in which a worker had a picture, by its *result*; return what follows.

        What was made is published or discarded, a failed attempt is counted. A job is looked at by *admission* before
        it waits for memory.
        """
        if isinstance(stage, Making) and not isinstance(result, JobDone | NotBegun):
            self.deliverer.discard(stage.job)
        to: Stage | Ending
        match result:
            case NotBegun():
                to = LetGo()
            case JobDone() if isinstance(stage, Making):
                to = self._delivered(stage, result)
            case _ if stage.reading != self.reading:  # the config was read again meanwhile
                to = LookAgain()
            case AttemptFailed() | Survey() if is_stopping:
                to = LetGo()
            case AttemptFailed():
                to = self._failed(stage.item, result)
            case Survey():
                to = self._surveyed(stage.item, result, admission)
            case Refused(said=said):
                to = Hold(said=said)
            case Stalled(said=said):
                to = self.rest(stage.item, said)
            case Changed():
                to = LookAgain()
            case JobDone() | Traced() | Ringed():
                raise AssertionError(f"{type(result).__name__} answers {type(stage).__name__}")
            case _:
                assert_never(result)
        return to

    def _surveyed(self, item: WorkItem, survey: Survey, admission: Admission) -> Stage | Ending:
        """Note what is to be made by a survey; the job waits for memory, if folders are ready and it fits at all."""
        surveyed = item.surveyed(survey)
        job, stalled = self.planner.prepare_job(surveyed)
        if job is None:
            return Finish(changed=False) if stalled is None else self.rest(item, stalled)
        try:
            admission.check(survey.need_mib)
        except OriginalHeldError as held:
            return Hold(said=held.said)
        except PassingFaultError as fault:
            return self.rest(item, fault.said, survey.need_mib)
        return WaitingForMemory(item=surveyed, reading=self.reading, job=job, stalled=stalled)

    def _delivered(self, stage: Making, done: JobDone) -> Stage | Ending:
        """Publish what a job has made, or discard it if it is not what is wanted now; return what follows."""
        is_reread = stage.reading != self.reading
        try:
            is_outdated = self.deliverer.is_outdated(stage.item, stage.job, is_reread=is_reread)
        except PassingFaultError as fault:
            self.deliverer.discard(stage.job)
            return self.rest(stage.item, fault.said)
        if is_outdated:
            self.deliverer.discard(stage.job)
            return LookAgain()
        stalled = self.deliverer.deliver(stage.item, stage.job, done.outcomes) or stage.stalled
        if stalled is None:
            return Finish(changed=True)
        return LookAgain() if is_reread else self.rest(stage.item, stalled)

    def _failed(self, item: WorkItem, failure: AttemptFailed) -> Ending:
        """Count a failed attempt; return that there is another one, or that the owner has to act."""
        attempts = self.originals.count_attempt(item.original)
        self.tell(Failed(file=item.file, attempts=attempts, detail=failure.detail, trace=failure.trace))
        if attempts < self.attempts:
            return TryAgain()
        return Hold(said=say(Held.FAILED_OFTEN, attempts=attempts, detail=failure.detail))

    def rest(self, item: WorkItem, said: Said, need_mib: float | None = None) -> Resting:
        """Let a picture wait for what may pass, longer each time; that costs no attempt."""
        due = time.monotonic() + self.backoff.next_pause(item.key)
        is_cramped = said.key == Passing.NO_WORKER_LARGE_ENOUGH
        return Resting(item=item, due=due, said=said, need_mib=need_mib if is_cramped else None)
