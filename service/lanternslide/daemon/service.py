"""The main loop: look, settle, survey, make, publish, record.

One thread decides everything. Others (the watcher's, the pool's, signal handlers) only leave mail.
"""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

from lanternslide.config import Settings
from lanternslide.daemon.desk import Desk
from lanternslide.daemon.errand import Errand, Key
from lanternslide.daemon.limits import Limits
from lanternslide.daemon.lookout import Lookout
from lanternslide.daemon.mail import Hint, Mailbox, Stop
from lanternslide.daemon.obstacles import Obstacles
from lanternslide.daemon.pauses import Pauses
from lanternslide.daemon.pool import Answer, Pool, PoolBroken, PoolMended
from lanternslide.daemon.publisher import Publisher
from lanternslide.daemon.room import Room
from lanternslide.daemon.turns import Turns
from lanternslide.errors import PassingFaultError, WorkersError
from lanternslide.ledger import Ledger, OriginalState
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
    SurveyTask,
    shown_path,
)
from lanternslide.records.events import Began, Delivered, Ended, Failed, Finished, Idle, Listener, Started
from lanternslide.report import readable_memory
from lanternslide.words import Held, Passing, Said, say

__all__ = ["Service"]

AHEAD = 1
"""Tasks that wait in the pool beyond one for each worker, so that none is idle between two."""

MOST_WAITING = 8
"""Jobs that wait for room in memory, at the most; nothing more is begun meanwhile."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Running:
    """An errand that a worker has."""

    errand: Errand
    job: Job | None = None  #: Once its deliveries are being made, or wait for room in memory.
    stalled: Said | None = None  #: Why some of its deliveries were not even begun.


class Service:
    """Does all that lies in the drop folders; as a service until it is told to stop, or once."""

    def __init__(self, settings: Settings, ledger: Ledger, mailbox: Mailbox, tell: Listener) -> None:
        self._ledger = ledger
        self._mailbox = mailbox
        self._tell = tell
        self._limits = Limits.of(settings.service)
        self.obstacles = Obstacles(tell)  #: What is in the way at the moment and may pass.
        self._desk = Desk(settings, ledger, tell)
        self._publisher = Publisher(settings, ledger)
        self._lookout = Lookout(settings, ledger, self._desk, self.obstacles, tell, self._is_in_hand)
        self._folders = tuple(shown_path(owner.drop) for owner in settings.photographers.values())
        self._ready = Turns()
        self._room = Room(self._limits.memory_mib, self._limits.workers)
        self._waiting: dict[Key, float] = {}  # running errands whose job waits for room: what it needs, MiB
        self._running: dict[Key, _Running] = {}
        self._resting: dict[Key, tuple[float, DroppedFile]] = {}
        self._in_hand: dict[Path, Fingerprint] = {}  # every file that is ready, running or resting
        self._keys: set[Key] = set()  # every picture that is ready or running
        self._pauses = Pauses()
        self._busy = False
        self._deadline: float | None = None
        self._until_idle = False

    def run(self, *, until_idle: bool) -> None:
        """Work until told to stop or, with *until_idle*, until nothing is left that can be done now."""
        self._until_idle = until_idle
        self._recover()
        if not until_idle:
            self._lookout.watch(self._mailbox)
            self._tell(Began(folders=self._folders))
        self._pool = Pool(self._limits.workers, self._mailbox.put)
        try:
            while not self._is_over(until_idle=until_idle):
                self._look_around()
                self._submit()
                self._read_mail()
        finally:
            self._lookout.close()
            self._pool.close()
            self._ledger.give_back_work()
        if not until_idle:
            self._tell(Ended())

    def _recover(self) -> None:
        """Make it as if nothing had happened: open intents settled, unfinished work waiting, stale temps gone."""
        for row in self._ledger.open_intents():
            try:
                record = self._publisher.settle_intent(row)
            except PassingFaultError as fault:
                self.obstacles.meet(f"destination {row.destination}", fault.said)
            else:
                if record is not None:
                    self._tell(Delivered(record=record))
        self._ledger.give_back_work()
        self._publisher.sweep_temporaries()
        self._note_limits()

    def _note_limits(self) -> None:
        """Let what was held for a limit be tried again once that limit has changed."""
        limits = {
            Held.TOO_MANY_PIXELS: self._limits.max_megapixels,
            Held.NEEDS_MORE_MEMORY: (self._limits.memory_mib, self._limits.workers),
        }
        for reason, limit in limits.items():
            if self._ledger.note(reason.value, str(limit)) != str(limit):
                self._ledger.retry_held_for(reason.value)

    def _is_over(self, *, until_idle: bool) -> bool:
        if self._deadline is not None:
            at_work = len(self._running) - len(self._waiting)
            return not at_work or time.monotonic() >= self._deadline
        left = not self._lookout.has_scanned or self._lookout or self._ready or self._running
        if left:
            self._busy = True
        elif self._busy:
            self._busy = False
            self._tell(Idle())
        return until_idle and not left

    def _is_in_hand(self, file: DroppedFile) -> bool:
        return self._in_hand.get(file.path) == file.fingerprint

    # Looking

    def _look_around(self) -> None:
        """Scan if it is time, wake what has rested, and make errands of what has settled."""
        if self._deadline is not None:
            return
        now = time.monotonic()
        self._lookout.scan_if_due(now)
        for key in [key for key, (due, _) in self._resting.items() if due <= now]:
            _, file = self._resting.pop(key)
            self._in_hand.pop(file.path, None)
            self._lookout.see(file, now)
        for file in self._lookout.settled(now):
            self._take_in(file, now)

    def _take_in(self, file: DroppedFile, now: float) -> None:
        routing = self._desk.routing_of(file)
        key = (file.photographer, file.relative if isinstance(routing, Said) else routing.picture)
        if key in self._keys:
            # An earlier state of the picture is still being worked on; look again when that has ended.
            self._lookout.see(file, now)
            return
        if key in self._resting:
            _, before = self._resting.pop(key)
            self._in_hand.pop(before.path, None)
        errand = self._desk.take_in(file, routing)
        if errand is not None:
            self._ready.add(errand)
            self._keys.add(errand.key)
            self._in_hand[file.path] = file.fingerprint

    # Working

    def _submit(self) -> None:
        """Begin what has room: jobs that wait for memory, then errands whose turn it is."""
        if self._deadline is not None:
            return
        for key in self._room.admit(self._waiting):
            del self._waiting[key]
            self._submit_job(self._running[key])
        while self._ready and self._has_place():
            errand = self._ready.next(Counter(photographer for photographer, _ in self._running))
            self._running[errand.key] = _Running(errand=errand)
            fingerprint = errand.file.fingerprint
            task = SurveyTask(
                path=errand.file.path,
                fingerprint=fingerprint,
                max_megapixels=self._limits.max_megapixels,
                wanted=self._desk.recipes_for(errand),
            )
            self._pool.submit(errand.key, "survey", task, self._limits.survey_timeout(fingerprint.size))

    def _has_place(self) -> bool:
        at_work = len(self._running) - len(self._waiting)
        return at_work < self._limits.workers + AHEAD and len(self._waiting) < MOST_WAITING

    def _make(self, errand: Errand, survey: Survey) -> None:
        """Have the deliveries made whose folders are ready; what stalls is tried again later."""
        rows, stalled = self._desk.still_to_make(errand, self._publisher)
        tasks = []
        for row in rows:
            try:
                tasks.append(self._publisher.task_for(errand, row))
            except PassingFaultError as fault:
                stalled = fault.said
        if tasks and self._room.is_too_large(survey.need_mib):
            need = readable_memory(self._room.needed_for(survey.need_mib))
            said = say(Held.NEEDS_MORE_MEMORY, need=need, budget=readable_memory(self._room.budget))
            self._end(errand)
            self._desk.hold(errand.original, errand.file, said)
        elif tasks:
            job = _job_of(errand, survey, tasks, self._desk.doubts_of(errand))
            self._running[errand.key] = _Running(errand=errand, job=job, stalled=stalled)
            self._waiting[errand.key] = survey.need_mib
        elif stalled is not None:
            self._rest(errand, stalled)
        else:
            self._finish(errand, changed=False)

    def _submit_job(self, running: _Running) -> None:
        job, errand = running.job, running.errand
        assert job is not None
        self._tell(Started(file=errand.file, deliveries=len(job.deliveries)))
        megapixels = job.survey.width * job.survey.height / 1e6
        self._pool.submit(errand.key, "make", job, self._limits.make_timeout(megapixels, len(job.deliveries)))

    def _take(self, answer: Answer) -> None:
        """Go on with what a worker has answered."""
        running = self._running[answer.key]
        errand = running.errand
        if answer.failure is not None:
            self._failed(errand, answer)
            return
        match answer.value:
            case Survey() as survey:
                if self._deadline is None:
                    self._make(replace(errand, survey=survey), survey)
                else:
                    self._let_go(errand)
            case Refused(said=said):
                self._end(errand)
                self._desk.hold(errand.original, errand.file, said)
            case Stalled(said=said):
                self._rest(errand, said)
            case None:
                self._look_again(errand)
            case outcomes:
                self._publish(running, outcomes)

    def _publish(self, running: _Running, outcomes: tuple[Outcome, ...]) -> None:
        job, errand, stalled = running.job, running.errand, running.stalled
        assert job is not None
        if not self._lookout.is_unchanged(errand.file):
            # What was made is stale; it is swept, and the file looked at again.
            self._publisher.discard(job)
            self._look_again(errand)
            return
        tasks = {task.delivery: task for task in job.deliveries}
        rows = {row.id: row for row in self._ledger.deliveries_of(errand.original)}
        for outcome in outcomes:
            match outcome:
                case Made(delivery=number):
                    try:
                        record = self._publisher.publish(errand, tasks[number], rows[number], outcome)
                    except PassingFaultError as fault:
                        stalled = fault.said
                    else:
                        self._tell(Delivered(record=record))
                case LeftOut(delivery=number):
                    self._ledger.leave_out(number, job.survey.digest)
                case Stalled(said=said):
                    stalled = said
        if stalled is None:
            self._finish(errand, changed=True)
        else:
            self._rest(errand, stalled)

    # Endings of an errand

    def _let_go(self, errand: Errand) -> None:
        self._running.pop(errand.key, None)
        self._waiting.pop(errand.key, None)
        self._room.leave(errand.key)
        self._keys.discard(errand.key)
        self._in_hand.pop(errand.file.path, None)

    def _end(self, errand: Errand) -> None:
        self._let_go(errand)
        self._pauses.forget(errand.key)
        self.obstacles.pass_by(errand.file.shown)

    def _look_again(self, errand: Errand) -> None:
        """End an errand whose original has changed or is gone; what is there now begins anew."""
        self._end(errand)
        self._lookout.follow(Hint(errand.file.photographer, errand.file.relative), time.monotonic())

    def _finish(self, errand: Errand, *, changed: bool) -> None:
        self._end(errand)
        self._ledger.finish(errand.original)
        self._tell(Finished(file=errand.file, changed=changed))

    def _rest(self, errand: Errand, said: Said) -> None:
        """Let an errand wait for what may pass; that costs no attempt."""
        self._let_go(errand)
        self._ledger.set_state(errand.original, OriginalState.WAITING)
        due = time.monotonic() + self._pauses.next_pause(errand.key)
        self._resting[errand.key] = (due, errand.file)
        self._in_hand[errand.file.path] = errand.file.fingerprint
        self.obstacles.meet(errand.file.shown, said)

    def _failed(self, errand: Errand, answer: Answer) -> None:
        """Count a failed attempt: try again, or hold the original."""
        if self._deadline is not None:
            self._let_go(errand)
            return
        detail = answer.failure or ""
        attempts = self._ledger.count_attempt(errand.original)
        self._tell(Failed(file=errand.file, attempts=attempts, detail=detail, trace=answer.trace))
        if attempts >= self._limits.attempts:
            self._end(errand)
            said = say(Held.FAILED_OFTEN, attempts=attempts, detail=detail)
            self._desk.hold(errand.original, errand.file, said)
        else:
            self._let_go(errand)
            self._lookout.see(errand.file, time.monotonic())

    # Waiting

    def _read_mail(self) -> None:
        """Sleep until there is mail or something is due, and read it."""
        for item in self._mailbox.read(self._seconds_to_next()):
            match item:
                case Answer():
                    self._take(item)
                case PoolBroken(detail=detail):
                    if self._until_idle:
                        raise WorkersError(detail)
                    self.obstacles.meet("workers", say(Passing.NO_WORKERS, detail=detail))
                case PoolMended():
                    self.obstacles.pass_by("workers")
                case Hint():
                    self._lookout.follow(item, time.monotonic())
                case Stop():
                    # A second request shortens the wait.
                    grace = self._limits.grace_seconds if self._deadline is None else 0.0
                    self._deadline = time.monotonic() + grace

    def _seconds_to_next(self) -> float:
        """Return how many seconds there are until something is due."""
        now = time.monotonic()
        if self._deadline is not None:
            return max(0.0, self._deadline - now)
        if self._busy and not (self._lookout or self._ready or self._running):
            return 0.0  # it has just become idle, which is to be said
        return max(0.0, min([self._lookout.next_due(), *(due for due, _ in self._resting.values())]) - now)


def _job_of(errand: Errand, survey: Survey, tasks: list[DeliveryTask], doubts: tuple[Said, ...]) -> Job:
    return Job(
        original=errand.original,
        photographer=errand.file.photographer,
        path=errand.file.path,
        fingerprint=errand.file.fingerprint,
        survey=survey,
        deliveries=tuple(tasks),
        doubts=doubts,
    )
