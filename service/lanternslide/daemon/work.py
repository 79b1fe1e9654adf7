"""The errands in hand: from a settled file through survey, making and publishing to one of their endings."""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import replace
from pathlib import Path

from lanternslide.daemon.errand import Errand, Key
from lanternslide.daemon.executor import Answer, Executor, Order, post, with_ahead
from lanternslide.daemon.mail import Hint, Mailbox
from lanternslide.daemon.marks import Stamps
from lanternslide.daemon.obstacles import Obstacles
from lanternslide.daemon.pauses import Pauses
from lanternslide.daemon.scope import Scope
from lanternslide.daemon.taking_back import withdrawn_of
from lanternslide.daemon.tools import Running, Tools
from lanternslide.daemon.turns import Turns
from lanternslide.errors import OriginalHeldError, PassingFaultError
from lanternslide.intake import held_for_writing
from lanternslide.ledger import DeliveryRow, Ledger, OriginalState
from lanternslide.records import (
    DeliveryTask,
    DroppedFile,
    Fingerprint,
    Job,
    LeftOut,
    Made,
    Outcome,
    Refused,
    Stalled,
    Survey,
)
from lanternslide.records.events import Delivered, Failed, Finished, Listener, Started, Withdrawn
from lanternslide.words import Held, Passing, Said, say

__all__ = ["Work"]

MOST_WAITING = 8
"""Jobs that wait for room in memory, at the most; nothing more is begun meanwhile."""


class Work:
    """Knows every errand that is ready, running or resting, and takes each to its end.

    `furnish` comes before anything else.
    """

    def __init__(self, ledger: Ledger, obstacles: Obstacles, scope: Scope, tell: Listener) -> None:
        self._ledger = ledger
        self._obstacles = obstacles
        self._scope = scope
        self._tell = tell
        self._stamps = Stamps(ledger.folder / "stamps", obstacles)
        self._ready = Turns()
        self._running: dict[Key, Running] = {}
        self._waiting: dict[Key, float] = {}  # running errands whose job waits for room: what it needs, MiB
        self._resting: dict[Key, tuple[float, DroppedFile]] = {}
        self._in_hand: dict[Path, Fingerprint] = {}  # every file that is ready, running or resting
        self._cramped: set[Key] = set()  # what rests, or has, for want of memory
        self._keys: set[Key] = set()  # every picture that is ready or running
        self._pauses = Pauses()
        self._reading = 0
        self._is_stopping = False

    def open(self, executor: Executor, mailbox: Mailbox) -> None:
        """Have errands done by *executor* from now on, and its answers left in *mailbox*."""
        self._executor = executor
        self._mailbox = mailbox
        self._stamps.catch_up(self._ledger.newest())

    def furnish(self, tools: Tools) -> None:
        """Work with other *tools*: what is not yet in a worker is let go of, and found again."""
        self._tools = tools
        self._reading += 1
        for errand in self._ready.clear():
            self._let_go(errand)
        self.wake_all()

    def resize(self) -> None:
        """Have as many workers and as much memory as the limits say now; what no longer fits is looked at again."""
        self._executor.adapt(self._tools.settings, self._tools.limits)
        for key in [key for key, need in self._waiting.items() if self._executor.room.is_too_large(need)]:
            self._look_again(self._running[key].errand)

    def stop(self) -> None:
        """Begin nothing more."""
        self._is_stopping = True
        self._executor.hold_back()

    def __bool__(self) -> bool:
        """Return whether something is ready or running."""
        return bool(self._ready or self._running)

    @property
    def at_hand(self) -> int:
        """How many errands are ready or running."""
        return len(self._ready) + len(self._running)

    @property
    def at_work(self) -> int:
        """How many errands the workers have."""
        return len(self._running) - len(self._waiting)

    def older_ready(self) -> Counter[str]:
        """Return how many older errands of each photographer are ready."""
        return self._ready.older()

    def stamp_older(self) -> None:
        """Touch the stamps that older work has earned, unless some of it is still at hand."""
        if not (self._ready.older() or any(running.errand.is_older for running in self._running.values())):
            self._stamps.end_older()

    def is_in_hand(self, file: DroppedFile) -> bool:
        """Return whether a file, as it looks now, is already ready, running or resting."""
        return self._in_hand.get(file.path) == file.fingerprint

    # Resting

    def wake(self, now: float) -> None:
        """Look again at what has rested long enough."""
        fits = self._cramped if self._executor.room.has_grown() else set()
        for key in [key for key, (due, _) in self._resting.items() if due <= now or key in fits]:
            _, file = self._resting.pop(key)
            self._in_hand.pop(file.path, None)
            self._tools.lookout.see(file, now)

    def wake_all(self) -> None:
        """Let go of all that rests; a scan finds it."""
        for _, file in self._resting.values():
            self._in_hand.pop(file.path, None)
        self._resting.clear()

    def next_due(self) -> list[float]:
        """Return when what rests is to be looked at again."""
        return [due for due, _ in self._resting.values()]

    # From a settled file to its deliveries

    def take_in(self, file: DroppedFile, now: float) -> None:
        """Make an errand of a file that has settled."""
        routing = self._tools.desk.routing_of(file)
        key = (file.photographer, self._tools.desk.picture_of(file, routing))
        if key in self._keys:
            queued = self._ready.take_out_older(key)
            if queued is None:
                if file.filed is None:  # an earlier state is still being worked on; look again when that has ended
                    self._tools.lookout.see(file, now)
                return
            self._let_go(queued)  # a new export does not wait for the turn of the former one
        if key in self._resting:
            _, before = self._resting.pop(key)
            self._in_hand.pop(before.path, None)
        if not self._tools.lookout.is_news(file):  # its owner has withdrawn it while it settled
            self._obstacles.pass_by(file.shown)
            self._tell(Finished(file=file, changed=False))
            return
        if self._scope.only is not None and (isinstance(routing, Said) or self._scope.only not in routing.destinations):
            self._tell(Finished(file=file, changed=False))
            return
        errand = self._tools.desk.take_in(file, routing)
        if errand is not None:
            self._ready.add(errand)
            self._keys.add(errand.key)
            self._in_hand[file.path] = file.fingerprint
            self._stamps.begin(errand.queues_for)

    def submit(self) -> None:
        """Begin what has room: jobs that wait for memory, then errands whose turn it is."""
        if self._is_stopping:
            return
        fresh_first = sorted(self._waiting, key=lambda key: self._running[key].errand.is_older)
        for key in self._executor.room.admit({key: self._waiting[key] for key in fresh_first}):
            del self._waiting[key]
            self._submit_job(self._running[key])
        while self._ready and self._has_place():
            errand = self._ready.next(Counter(photographer for photographer, _ in self._running))
            self._running[errand.key] = Running(errand=errand, reading=self._reading)
            self._submit(self._tools.survey_of(errand))

    def _has_place(self) -> bool:
        return self.at_work < with_ahead(self._executor.places) and len(self._waiting) < MOST_WAITING

    def _submit(self, order: Order) -> None:
        post(self._executor.submit(order), self._mailbox.put)

    def _make(self, errand: Errand, survey: Survey) -> None:
        """Have the deliveries made whose folders are ready; what stalls is tried again later."""
        rows, stalled = self._tools.desk.still_to_make(errand, self._tools.publisher)
        tasks = []
        for row in rows:
            if not self._scope.takes_destination(row.destination):
                continue
            try:
                tasks.append(self._tools.publisher.task_for(errand, row))
            except PassingFaultError as fault:
                stalled = fault.said
        if tasks and self._fits(errand, survey.need_mib):
            job = errand.job(survey, tasks, self._tools.desk.findings_of(errand.routing))
            self._running[errand.key] = Running(errand=errand, reading=self._reading, job=job, stalled=stalled)
            self._waiting[errand.key] = survey.need_mib
        elif not tasks and stalled is not None:
            self._rest(errand, stalled)
        elif not tasks:
            self._finish(errand, changed=False)

    def _fits(self, errand: Errand, need: float) -> bool:
        """Return whether some worker has the memory that an errand's job needs; if not, that errand ends or rests."""
        try:
            self._executor.room.check(need)
        except OriginalHeldError as held:
            self._end(errand)
            self._tools.desk.hold(errand.original, errand.file, held.said)
            return False
        except PassingFaultError as fault:
            self._rest(errand, fault.said)
            return False
        return True

    def _submit_job(self, running: Running) -> None:
        job, errand = running.job, running.errand
        assert job is not None
        self._tell(Started(file=errand.file, deliveries=len(job.deliveries)))
        self._submit(self._tools.making_of(errand, job))

    def take(self, answer: Answer) -> None:
        """Go on with what a worker has answered."""
        running = self._running[answer.key]
        errand = running.errand
        if not answer.begun:
            self._let_go(errand)
            return
        if running.job is not None and not isinstance(answer.value, tuple):
            self._tools.publisher.discard(running.job)
        is_outdated = running.reading != self._reading  # the config was read again meanwhile
        if is_outdated and not isinstance(answer.value, tuple):
            self._look_again(errand)
            return
        if answer.failure is not None:
            self._failed(errand, answer)
            return
        match answer.value:
            case Survey() as survey:
                if self._is_stopping:
                    self._let_go(errand)
                else:
                    self._make(replace(errand, survey=survey), survey)
            case Refused(said=said):
                self._end(errand)
                self._tools.desk.hold(errand.original, errand.file, said)
            case Stalled(said=said):
                self._rest(errand, said)
            case None:
                self._look_again(errand)
            case outcomes:
                self._publish(running, outcomes)

    def _publish(self, running: Running, outcomes: tuple[Outcome, ...]) -> None:
        job, errand, stalled = running.job, running.errand, running.stalled
        assert job is not None
        try:
            is_stale = self._is_stale(running, job)
        except PassingFaultError as fault:
            self._tools.publisher.discard(job)
            self._rest(errand, fault.said)
            return
        if is_stale:
            self._tools.publisher.discard(job)
            self._look_again(errand)
            return
        tasks = {task.delivery: task for task in job.deliveries}
        rows = {row.id: row for row in self._ledger.deliveries_of(errand.original)}
        for outcome in outcomes:
            match outcome:
                case Made(delivery=number):
                    stalled = self._publish_one(errand, tasks[number], rows[number], outcome) or stalled
                case LeftOut(delivery=number):
                    self._leave_out(errand, rows[number], job.survey.digest)
                case Stalled(said=said):
                    stalled = said
        if stalled is None:
            self._finish(errand, changed=True)
        elif running.reading != self._reading:
            self._look_again(errand)
        else:
            self._rest(errand, stalled)

    def _is_stale(self, running: Running, job: Job) -> bool:
        """Return whether what was made is not what is wanted now: the original or the config has changed meanwhile."""
        file = running.errand.file
        owner = self._tools.settings.photographers.get(file.photographer)
        if owner is None or owner.drop != file.drop:
            return True
        if running.reading != self._reading:
            if self._tools.desk.routing_of(file) != running.errand.routing:
                return True
            if self._tools.publisher.are_outdated(running.errand, job.deliveries):
                return True
        return not self._tools.lookout.is_unchanged(file)

    def _publish_one(self, errand: Errand, task: DeliveryTask, row: DeliveryRow, made: Made) -> Said | None:
        """Publish a delivery, unless its owner has withdrawn it meanwhile; return what is in the way."""
        if row.state == "withdrawn":
            self._tools.publisher.discard_one(task)
            return None
        try:
            record = self._tools.publisher.publish(errand, task, row, made)
        except PassingFaultError as fault:
            return fault.said
        for found in self._tools.publisher.clear_replaced({}, row.id):  # what could not be deleted is after a scan
            self._tell(withdrawn_of(found))
        self._stamps.deliver(row.destination, is_older=errand.is_older)
        self._tell(Delivered(record=record))
        return None

    def _leave_out(self, errand: Errand, row: DeliveryRow, digest: str) -> None:
        """Note that an original is too small for a delivery; what stands of it shows a former export, and goes."""
        self._ledger.leave_out(row.id, digest)
        for output in self._tools.publisher.clear_left_out(errand.original):
            self._tell(Withdrawn(original=errand.file.shown, destination=row.destination, output=output))

    # Endings of an errand

    def _let_go(self, errand: Errand) -> None:
        self._running.pop(errand.key, None)
        self._waiting.pop(errand.key, None)
        self._executor.room.leave(errand.key)
        self._keys.discard(errand.key)
        self._in_hand.pop(errand.file.path, None)
        self._stamps.end(errand.queues_for)

    def _end(self, errand: Errand) -> None:
        self._let_go(errand)
        self._pauses.forget(errand.key)
        self._obstacles.pass_by(errand.file.shown)

    def _look_again(self, errand: Errand) -> None:
        """End an errand whose original has changed or is gone; what is there now begins anew."""
        self._end(errand)
        self._ledger.give_back(errand.original)
        self._follow(errand.file)

    def _follow(self, file: DroppedFile) -> None:
        """Look for an original again where it lay: in its drop folder or where it is filed away."""
        now = time.monotonic()
        if file.filed is None:
            self._tools.lookout.follow(Hint(file.photographer, file.relative), now)
        else:
            self._tools.lookout.follow_filed(file, now)

    def _finish(self, errand: Errand, *, changed: bool) -> None:
        self._end(errand)
        state = self._ledger.finish(errand.original)
        self._ledger.delivered_from(errand.original, errand.file.filed)
        self._tell(Finished(file=errand.file, changed=changed))
        if state is OriginalState.WAITING and not self._scope:  # its owner has asked for more meanwhile
            self._follow(errand.file)
        is_filed = errand.file.filed is not None
        if state is OriginalState.DELIVERED and self._tools.filing.is_wanted(errand.file.photographer) and not is_filed:
            self.file_away(errand.file, errand.original)

    def file_away(self, file: DroppedFile, original: int) -> None:
        """File a finished original away; where that is not possible now, the next scan finds it again."""
        what = f"{file.photographer}: filing"
        try:
            # What somebody writes into at this moment is about to be another export.
            if self._tools.lookout.is_unchanged(file) and not held_for_writing(file.path):
                self._tools.filing.file_away(file, original)
        except PassingFaultError as fault:
            self._obstacles.meet(what, fault.said)
        else:
            self._obstacles.pass_by(what)

    def _rest(self, errand: Errand, said: Said) -> None:
        """Let an errand wait for what may pass; that costs no attempt."""
        self._let_go(errand)
        self._ledger.set_state(errand.original, OriginalState.WAITING)
        due = time.monotonic() + self._pauses.next_pause(errand.key)
        self._resting[errand.key] = (due, errand.file)
        if said.key == Passing.NO_WORKER_LARGE_ENOUGH:
            self._cramped.add(errand.key)
        self._in_hand[errand.file.path] = errand.file.fingerprint
        self._obstacles.meet(errand.file.shown, said)

    def _failed(self, errand: Errand, answer: Answer) -> None:
        """Count a failed attempt: try again, or hold the original."""
        if self._is_stopping:
            self._let_go(errand)
            return
        detail = answer.failure or ""
        attempts = self._ledger.count_attempt(errand.original)
        self._tell(Failed(file=errand.file, attempts=attempts, detail=detail, trace=answer.trace))
        if attempts >= self._tools.limits.attempts:
            self._end(errand)
            said = say(Held.FAILED_OFTEN, attempts=attempts, detail=detail)
            self._tools.desk.hold(errand.original, errand.file, said)
        else:
            self._let_go(errand)
            self._tools.lookout.see(errand.file, time.monotonic())
