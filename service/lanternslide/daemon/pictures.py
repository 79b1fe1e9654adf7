"""The pictures in hand: from a settled file through surveying, making and publishing to one of their endings."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import assert_never

from lanternslide.daemon.stages import (
    Ending,
    Finish,
    Hold,
    LetGo,
    LookAgain,
    Making,
    Ready,
    Resting,
    Stage,
    Surveying,
    TryAgain,
    WaitingForMemory,
)
from lanternslide.daemon.table import AT_WORK, Table
from lanternslide.daemon.transitions import Transitions
from lanternslide.delivery import Stamps
from lanternslide.errors import OriginalHeldError, PassingFaultError
from lanternslide.intake import Decisions
from lanternslide.ledger import Originals, OriginalState
from lanternslide.records import DroppedFile, Key, Scope, WorkItem
from lanternslide.records.events import Finished, Listener, Started
from lanternslide.report.obstacles import Obstacles
from lanternslide.storage import is_gone
from lanternslide.words import Said
from lanternslide.workers.backoff import Backoff
from lanternslide.workers.executor import Admission, Answer, Order, with_ahead

__all__ = ["Look", "Pictures"]

MOST_WAITING = 8
"""Jobs that wait for room in memory, at the most; nothing more is begun meanwhile."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Look:
    """A file that is to be looked at again, by who finds originals."""

    file: DroppedFile
    is_known: bool  #: Whether it is known to need something, as it is; otherwise whatever lies there now is looked at.


class Pictures:
    """Takes each picture in hand from stage to stage, and does what its ending asks for.

    `furnish` comes before anything else.
    """

    def __init__(
        self, originals: Originals, stamps: Stamps, obstacles: Obstacles, scope: Scope, tell: Listener
    ) -> None:
        self._originals = originals
        self._obstacles = obstacles
        self._scope = scope
        self._tell = tell
        self._table = Table()
        self._looks: list[Look] = []
        self._is_stopping = False
        self.stamps = stamps  #: Touched when a destination's queue is empty.
        self.backoff = Backoff()  #: How often each picture has rested.

    def furnish(self, decisions: Decisions, transitions: Transitions) -> None:
        """Go by another reading of the config: what is not yet in a worker is let go of, and found again."""
        self._decisions = decisions
        self._transitions = transitions
        for key in self._table.at(Ready):
            self._move(key, LetGo())
        self.wake_all()

    def look_through_waiting(self, admission: Admission) -> None:
        """Look again at jobs that wait for memory and are to be held now, because they never fit."""
        for key, stage in self._table.at(WaitingForMemory).items():
            try:
                admission.check(stage.job.survey.need_mib)
            except PassingFaultError:  # a worker that is large enough may come back
                continue
            except OriginalHeldError:
                admission.leave(key)
                self._move(key, LookAgain())

    def stop(self) -> None:
        """Begin nothing more."""
        self._is_stopping = True

    # What is asked of it

    def __bool__(self) -> bool:
        """Return whether something is ready, or a worker has it."""
        return self.at_hand > 0

    @property
    def at_hand(self) -> int:
        """How many pictures are ready, or a worker has them, or wait for memory."""
        return self._table.number(Ready, *AT_WORK)

    @property
    def at_work(self) -> int:
        """How many pictures the workers have."""
        return self._table.number(Surveying, Making)

    def older_ready(self) -> Counter[str]:
        """Return how many older pictures of each photographer are ready."""
        return self._table.older_ready()

    def is_in_hand(self, file: DroppedFile) -> bool:
        """Return whether a file, as it looks now, is in hand."""
        return self._table.has(file)

    def next_due(self) -> float:
        """Return when what rests first is to be looked at again (monotonic seconds); infinity if nothing does."""
        return min((stage.due for stage in self._table.each(Resting)), default=math.inf)

    def take_looks(self) -> list[Look]:
        """Return the files that are to be looked at again, once each."""
        found, self._looks = self._looks, []
        return found

    # Resting

    def wake(self, now: float, admission: Admission) -> None:
        """Look again at what has rested long enough, and at what fits into memory now."""
        for stage in [stage for stage in self._table.each(Resting) if _is_over(stage, now, admission)]:
            self._move(stage.item.key, TryAgain())

    def wake_all(self) -> None:
        """Let go of all that rests; a scan finds it."""
        for key in self._table.at(Resting):
            self._move(key, LetGo())

    # From a settled file to an order

    def admit(self, file: DroppedFile) -> None:
        """Take a file that has settled in hand, if it needs anything."""
        decisions = self._decisions
        routing = decisions.routing_of(file)
        key = file.photographer, decisions.picture_of(file, routing)
        if not self._make_way(key, file):
            return
        rows = self._originals.at(file.photographer, file.relative)
        known = rows[0].known if rows else None
        is_news = decisions.is_news(file, known, routing)
        # Its owner may have withdrawn it while it settled. A newer one may be there: `is_news` has asked that of a file
        # that nobody knows, and of one that is known it is asked here.
        if not is_news or (known is not None and decisions.is_outdated(file, routing)):
            self._obstacles.pass_by(file.shown)
            self._tell(Finished(file=file, changed=False))
            return
        if self._scope.only is not None and (isinstance(routing, Said) or self._scope.only not in routing.destinations):
            self._tell(Finished(file=file, changed=False))
            return
        item = decisions.take_in(file, routing)
        if item is not None:
            self._table.take_in(item)
            self.stamps.begin(item.queues_for)

    def _make_way(self, key: Key, file: DroppedFile) -> bool:
        """Return whether a file can be taken in hand now; what its picture merely waits with gives way."""
        match self._table.stage_of(key):
            case None:
                return True
            case Ready(item=item) if item.is_older:  # a new export does not wait for the turn of the former one
                self._move(key, LetGo())
                return True
            case Resting(item=item):
                if item.file.path != file.path and is_gone(item.file.path):  # nobody else will say so of its name
                    self._obstacles.pass_by(item.file.shown)
                self._move(key, LetGo())
                return True
            case _:
                if file.filed is None:  # an earlier state is still being worked on; look again when that has ended
                    self._looks.append(Look(file=file, is_known=True))
                return False

    def orders(self, admission: Admission, slots: int) -> Iterator[Order]:
        """Yield what workers are to do next: jobs that there is memory for, then surveys of those whose turn it is.

        *slots* is how many orders can be done at once.
        """
        if self._is_stopping:
            return
        planner = self._transitions.planner
        waiting = self._table.at(WaitingForMemory)
        fresh_first = sorted(waiting, key=lambda key: waiting[key].item.is_older)
        for key in admission.admit({key: waiting[key].job.survey.need_mib for key in fresh_first}):
            stage = waiting[key]
            self._move(key, Making(item=stage.item, reading=stage.reading, job=stage.job, stalled=stage.stalled))
            self._tell(Started(file=stage.item.file, deliveries=len(stage.job.deliveries)))
            yield planner.making_of(stage.item, stage.job)
        most = with_ahead(slots)
        while self._table.number(Ready) and self.at_work < most and self._table.number(WaitingForMemory) < MOST_WAITING:
            item = self._table.next_ready().item
            self._move(item.key, Surveying(item=item, reading=self._transitions.reading))
            yield planner.survey_of(item)

    def advance(self, answer: Answer, admission: Admission) -> None:
        """Go on with what a worker has answered."""
        stage = self._table.stage_of(answer.key)
        assert isinstance(stage, Surveying | Making), f"an answer for {answer.key}, which no worker has"
        to = self._transitions.conclude(stage, answer.result, admission, is_stopping=self._is_stopping)
        admission.leave(answer.key)
        self._move(answer.key, to)

    # What stages and endings ask for

    def _move(self, key: Key, to: Stage | Ending) -> None:
        before = self._table.move(key, to)
        item = before.item
        if not isinstance(to, Surveying | WaitingForMemory | Making) and not isinstance(before, Resting):
            self.stamps.end(item.queues_for)
        match to:
            case Resting(said=said):
                self._originals.set_state(item.original, OriginalState.WAITING)
                self._obstacles.meet(item.file.shown, said)
            case Finish(changed=changed):
                self._over(item)
                self._finish(item, changed=changed)
            case Hold(said=said):
                self._over(item)
                self._decisions.hold(item.original, item.file, said)
            case LookAgain():
                self._over(item)
                self._originals.give_back(item.original)
                self._looks.append(Look(file=item.file, is_known=False))
            case TryAgain():
                self._looks.append(Look(file=item.file, is_known=True))
            case Ready() | Surveying() | WaitingForMemory() | Making() | LetGo():
                pass
            case _:
                assert_never(to)

    def _over(self, item: WorkItem) -> None:
        """Note that nothing is in the way of a picture any more."""
        self.backoff.forget(item.key)
        self._obstacles.pass_by(item.file.shown)

    def _finish(self, item: WorkItem, *, changed: bool) -> None:
        file = item.file
        state = self._originals.finish(item.original, file)
        self._tell(Finished(file=file, changed=changed))
        if state is OriginalState.WAITING and not self._scope:  # its owner has asked for more meanwhile
            self._looks.append(Look(file=file, is_known=False))
        if state is OriginalState.DELIVERED and file.filed is None:
            self._transitions.deliverer.file_away(file, item.original)

    def stamp_older(self) -> None:
        """Touch the stamps that older work has earned, unless some of it is still at hand."""
        if not (self.older_ready() or any(item.is_older for item in self._table.items())):
            self.stamps.end_older()


def _is_over(stage: Resting, now: float, admission: Admission) -> bool:
    """Return whether a picture has rested long enough: its time has come, or it fits into memory."""
    return stage.due <= now or (stage.need_mib is not None and admission.fits(stage.need_mib))
