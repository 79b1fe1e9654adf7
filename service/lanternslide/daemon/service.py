"""The main loop: look, settle, survey, make, publish, record.

One thread decides everything. Others (the watcher's, the pool's, signal handlers) only leave mail.
"""

from __future__ import annotations

import os
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from lanternslide.config import Settings
from lanternslide.daemon.desk import Desk
from lanternslide.daemon.errand import Errand, Key
from lanternslide.daemon.filing import Filing
from lanternslide.daemon.limits import Limits
from lanternslide.daemon.lookout import Lookout, Questions
from lanternslide.daemon.mail import Hint, Lost, Mailbox, Reload, Stop
from lanternslide.daemon.marks import HeldNotes, Stamps
from lanternslide.daemon.obstacles import Obstacles
from lanternslide.daemon.owner import DROP_NOTE, Owner
from lanternslide.daemon.pauses import Pauses
from lanternslide.daemon.pool import Answer, Pool, PoolBroken, PoolMended
from lanternslide.daemon.publisher import Publisher
from lanternslide.daemon.requests import Answer as Done
from lanternslide.daemon.requests import Request, Requests
from lanternslide.daemon.room import Room
from lanternslide.daemon.scope import Scope
from lanternslide.daemon.turns import Turns
from lanternslide.errors import ConfigError, PassingFaultError, StateError, WorkersError
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
    SurveyTask,
    shown_path,
)
from lanternslide.records.events import (
    Began,
    ConfigRefused,
    Delivered,
    Ended,
    Event,
    Failed,
    Finished,
    HeldBack,
    Idle,
    Listener,
    RequestFailed,
    Reread,
    Started,
)
from lanternslide.report import readable_memory
from lanternslide.words import Command, Held, Passing, Said, say

__all__ = ["Service"]

AHEAD = 2
"""Tasks that wait in the pool beyond one for each worker, so that none is idle between two."""

MOST_WAITING = 8
"""Jobs that wait for room in memory, at the most; nothing more is begun meanwhile."""

LISTEN_SECONDS = 1.0
"""How often a service looks for its owner's requests."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Running:
    """An errand that a worker has, or that waits for room."""

    errand: Errand
    reading: int  #: Which reading of the config it was begun under.
    job: Job | None = None  #: Once its deliveries are being made, or wait for room in memory.
    stalled: Said | None = None  #: Why some of its deliveries were not even begun.


class Service:
    """Does all that lies in the drop folders; as a service until it is told to stop, or once.

    Parameters
    ----------
    scope
        What it is limited to.
    reread
        Returns the settings anew, or raises ConfigError.
    """

    def __init__(
        self,
        settings: Settings,
        ledger: Ledger,
        mailbox: Mailbox,
        tell: Listener,
        *,
        scope: Scope | None = None,
        reread: Callable[[], Settings] | None = None,
    ) -> None:
        self._ledger = ledger
        self._mailbox = mailbox
        self._listener = tell
        self._scope = scope or Scope()
        self._reread = reread
        self.obstacles = Obstacles(self._tell)  #: What is in the way at the moment and may pass.
        self._requests = Requests(ledger.folder)
        self._stamps = Stamps(ledger.folder / "stamps", self.obstacles)
        self._ready = Turns()
        self._running: dict[Key, _Running] = {}
        self._waiting: dict[Key, float] = {}  # running errands whose job waits for room: what it needs, MiB
        self._resting: dict[Key, tuple[float, DroppedFile]] = {}
        self._in_hand: dict[Path, Fingerprint] = {}  # every file that is ready, running or resting
        self._keys: set[Key] = set()  # every picture that is ready or running
        self._unsettled: set[str] = set()  # destinations of which it could not be told at the start what stands there
        self._pauses = Pauses()
        self._busy = False
        self._deadline: float | None = None
        self._until_idle = False
        self._reading = 0
        self._furnish(settings)
        self._room = Room(self._limits.memory_mib, self._limits.workers)

    def _furnish(self, settings: Settings) -> None:
        """Make everything anew that depends on the settings."""
        self._settings = settings
        self._limits = Limits.of(settings.service)
        self._desk = Desk(settings, self._ledger, self._tell)
        self._publisher = Publisher(settings, self._ledger)
        self._filing = Filing(settings, self._ledger, self._tell)
        self._owner = Owner(settings, self._ledger, self._desk, self._publisher, self._tell)
        self._notes = HeldNotes(settings, self._ledger, self.obstacles)
        ask = Questions(
            in_hand=self._is_in_hand, in_scope=self._scope.takes_file, is_filed=self._filing.is_wanted
        )  # fmt: skip
        self._lookout = Lookout(settings, self._ledger, self._desk, self.obstacles, self._tell, ask)
        self._folders = tuple(shown_path(owner.drop) for owner in settings.photographers.values())

    def _tell(self, event: Event) -> None:
        if isinstance(event, HeldBack | Finished):
            self._notes.is_due = True
        self._listener(event)

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
                self._hear_requests()
        finally:
            self._lookout.close()
            self._pool.close()
            self._ledger.give_back_work()
        self._notes.write()
        if not until_idle:
            self._tell(Ended())

    def _recover(self) -> None:
        """Make it as if nothing had happened: open intents settled, unfinished work waiting, stale temps gone."""
        for row in self._ledger.open_intents():
            try:
                record = self._publisher.settle_intent(row)
            except PassingFaultError as fault:
                self._unsettled.add(row.destination)
                self.obstacles.meet(f"destination {row.destination}", fault.said)
            else:
                if record is not None:
                    self._tell(Delivered(record=record))
        self._stamps.catch_up(self._ledger.newest())
        self._owner.go_on()
        self._ledger.give_back_work()
        self._publisher.sweep_temporaries()
        try:
            self._requests.prepare()
        except OSError as error:
            self._meet_requests(error)
        self._note_settings()

    def _note_settings(self) -> None:
        """Let what was held for a limit be tried again once it has changed; note where originals are dropped."""
        limits = {
            Held.TOO_MANY_PIXELS: self._limits.max_megapixels,
            Held.NEEDS_MORE_MEMORY: (self._limits.memory_mib, self._limits.workers),
        }
        for reason, limit in limits.items():
            if self._ledger.noted(reason.value) != str(limit):
                self._ledger.retry_held_for(reason.value)
                self._ledger.note(reason.value, str(limit))
        for name, owner in self._settings.photographers.items():
            self._ledger.note(f"{DROP_NOTE}{name}", os.fsencode(owner.drop).hex())

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
        if self._lookout.scan_if_due(now):
            self._owner.go_on()
            for name in self._unsettled - {row.destination for row in self._ledger.open_intents()}:
                self._unsettled.discard(name)
                self.obstacles.pass_by(f"destination {name}")
            self._notes.is_due = True
        if self._until_idle:
            self._lookout.give_up(now - self._limits.sweep_patience())
        for file, original in self._lookout.finished():
            self._file_away(file, original)
        for key in [key for key, (due, _) in self._resting.items() if due <= now]:
            _, file = self._resting.pop(key)
            self._in_hand.pop(file.path, None)
            self._lookout.see(file, now)
        for file in self._lookout.settled(now):
            self._take_in(file, now)
        self._notes.write_if_due(now)

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
        if not self._lookout.is_news(file):  # its owner has withdrawn it while it settled
            self.obstacles.pass_by(file.shown)
            self._tell(Finished(file=file, changed=False))
            return
        if self._scope.only is not None and (isinstance(routing, Said) or self._scope.only not in routing.destinations):
            self._tell(Finished(file=file, changed=False))
            return
        errand = self._desk.take_in(file, routing)
        if errand is not None:
            self._ready.add(errand)
            self._keys.add(errand.key)
            self._in_hand[file.path] = file.fingerprint
            self._stamps.begin(errand.routing.destinations)

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
            self._running[errand.key] = _Running(errand=errand, reading=self._reading)
            fingerprint = errand.file.fingerprint
            task = SurveyTask(
                drop=errand.file.drop,
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
            if not self._scope.takes_destination(row.destination):
                continue
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
            self._running[errand.key] = _Running(errand=errand, reading=self._reading, job=job, stalled=stalled)
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
        if not answer.begun:
            self._let_go(errand)
            return
        if running.job is not None and not isinstance(answer.value, tuple):
            self._publisher.discard(running.job)
        is_outdated = running.reading != self._reading  # the config was read again meanwhile
        if is_outdated and not isinstance(answer.value, tuple):
            self._look_again(errand)
            return
        if answer.failure is not None:
            self._failed(errand, answer)
            return
        match answer.value:
            case Survey() as survey:
                if self._deadline is not None:
                    self._let_go(errand)
                else:
                    self._make(replace(errand, survey=survey), survey)
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
        owner = self._settings.photographers.get(errand.file.photographer)
        if owner is None or owner.drop != errand.file.drop or not self._lookout.is_unchanged(errand.file):
            # What was made is stale; it is swept, and the file looked at again.
            self._publisher.discard(job)
            self._look_again(errand)
            return
        tasks = {task.delivery: task for task in job.deliveries}
        rows = {row.id: row for row in self._ledger.deliveries_of(errand.original)}
        for outcome in outcomes:
            match outcome:
                case Made(delivery=number):
                    stalled = self._publish_one(errand, tasks[number], rows[number], outcome) or stalled
                case LeftOut(delivery=number):
                    self._ledger.leave_out(number, job.survey.digest)
                case Stalled(said=said):
                    stalled = said
        if stalled is None:
            self._finish(errand, changed=True)
        elif running.reading != self._reading:
            self._look_again(errand)
        else:
            self._rest(errand, stalled)

    def _publish_one(self, errand: Errand, task: DeliveryTask, row: DeliveryRow, made: Made) -> Said | None:
        """Publish a delivery, unless its owner has withdrawn it meanwhile; return what is in the way."""
        if row.state == "withdrawn":
            self._publisher.discard_one(task)
            return None
        try:
            record = self._publisher.publish(errand, task, row, made)
        except PassingFaultError as fault:
            return fault.said
        self._stamps.deliver(row.destination)
        self._tell(Delivered(record=record))
        return None

    # Endings of an errand

    def _let_go(self, errand: Errand) -> None:
        self._running.pop(errand.key, None)
        self._waiting.pop(errand.key, None)
        self._room.leave(errand.key)
        self._keys.discard(errand.key)
        self._in_hand.pop(errand.file.path, None)
        self._stamps.end(errand.routing.destinations)

    def _end(self, errand: Errand) -> None:
        self._let_go(errand)
        self._pauses.forget(errand.key)
        self.obstacles.pass_by(errand.file.shown)

    def _look_again(self, errand: Errand) -> None:
        """End an errand whose original has changed or is gone; what is there now begins anew."""
        self._end(errand)
        self._ledger.give_back(errand.original)
        self._lookout.follow(Hint(errand.file.photographer, errand.file.relative), time.monotonic())

    def _finish(self, errand: Errand, *, changed: bool) -> None:
        self._end(errand)
        state = self._ledger.finish(errand.original)
        self._tell(Finished(file=errand.file, changed=changed))
        if state is OriginalState.WAITING and not self._scope:  # its owner has asked for more meanwhile
            self._lookout.follow(Hint(errand.file.photographer, errand.file.relative), time.monotonic())
        if state is OriginalState.DELIVERED and self._filing.is_wanted(errand.file.photographer):
            self._file_away(errand.file, errand.original)

    def _file_away(self, file: DroppedFile, original: int) -> None:
        """File a finished original away; where that is not possible now, the next scan finds it again."""
        if not self._lookout.is_unchanged(file):
            return
        what = f"{file.photographer}: filing"
        try:
            self._filing.file_away(file, original)
        except PassingFaultError as fault:
            self.obstacles.meet(what, fault.said)
        else:
            self.obstacles.pass_by(what)

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
                    self._notes.is_due = True
                case Lost():
                    self._lookout.scan_now()
                case Reload():
                    self._reload()
                case Stop():
                    # A second request shortens the wait.
                    grace = self._limits.grace_seconds if self._deadline is None else 0.0
                    self._deadline = time.monotonic() + grace
                    self._pool.hold_back()

    def _seconds_to_next(self) -> float:
        """Return how many seconds there are until something is due."""
        now = time.monotonic()
        if self._deadline is not None:
            return max(0.0, self._deadline - now)
        if self._busy and not (self._lookout or self._ready or self._running):
            return 0.0  # it has just become idle, which is to be said
        due = [self._lookout.next_due(), now + LISTEN_SECONDS, *(due for due, _ in self._resting.values())]
        return max(0.0, min(due) - now)

    def _hear_requests(self) -> None:
        """Do what the owner's commands have asked for."""
        try:
            for name, request in self._requests.take():
                # Somebody else's sweep is done by itself once this one has ended.
                if request is None or request.command != "sweep" or not self._until_idle:
                    self._requests.answer(name, self._perform(request))
        except OSError as error:
            self._meet_requests(error)
        else:
            self.obstacles.pass_by("requests")

    def _meet_requests(self, error: OSError) -> None:
        detail = error.strerror or str(error)
        self.obstacles.meet("requests", say(Passing.REQUESTS, folder=self._requests.folder, detail=detail))

    def _perform(self, request: Request | None) -> Done:
        if request is not None and request.command == "sweep":
            self._reload()  # what the owner has changed in the config counts
        try:
            done = self._owner.perform(request)
        except StateError:
            raise
        except Exception as error:  # noqa: BLE001 - an odd request must not stop the service; it is logged and answered
            self._tell(RequestFailed(detail=str(error), trace=traceback.format_exc()))
            done = Done(lines=(say(Command.COULD_NOT, detail=error).text,), status=2)
        # What rests is tried at once too: its owner may have mended what was in the way.
        for _, file in self._resting.values():
            self._in_hand.pop(file.path, None)
        self._resting.clear()
        self._lookout.scan_now()
        return done

    def _reload(self) -> None:
        """Read the config again; one that is not valid is refused, and the old one stays."""
        if self._reread is None or self._deadline is not None:
            return
        try:
            settings = self._reread()
        except ConfigError as error:
            self._tell(ConfigRefused(detail=str(error)))
            return
        self._lookout.close()
        for errand in self._ready.clear():
            self._let_go(errand)
        for _, file in self._resting.values():
            self._in_hand.pop(file.path, None)
        self._resting.clear()
        self.obstacles.forget()
        self._reading += 1
        self._furnish(settings)
        self._pool.resize(self._limits.workers)
        self._room.resize(self._limits.memory_mib, self._limits.workers)
        for key in [key for key, need in self._waiting.items() if self._room.is_too_large(need)]:
            self._look_again(self._running[key].errand)
        self._note_settings()
        if not self._until_idle:
            self._lookout.watch(self._mailbox)
        self._tell(Reread(folders=self._folders))


def _job_of(errand: Errand, survey: Survey, tasks: list[DeliveryTask], doubts: tuple[Said, ...]) -> Job:
    return Job(
        original=errand.original,
        photographer=errand.file.photographer,
        drop=errand.file.drop,
        path=errand.file.path,
        fingerprint=errand.file.fingerprint,
        survey=survey,
        deliveries=tuple(tasks),
        doubts=doubts,
    )
