"""The main loop: look, settle, survey, make, publish, record.

One thread decides everything. Others (the watcher's, the pool's, signal handlers) only leave messages.
"""

from __future__ import annotations

import time
import traceback
from collections.abc import Callable

from lanternslide.config import Settings
from lanternslide.config.limits import Limits
from lanternslide.daemon.inbox import Inbox, Reload, Stop
from lanternslide.daemon.noted_settings import note_settings
from lanternslide.daemon.parts import Lasting, parts_for
from lanternslide.daemon.pausing import Pause
from lanternslide.daemon.pictures import Pictures
from lanternslide.daemon.supervisor import Supervisor
from lanternslide.delivery import Reachability, Stamps
from lanternslide.errors import ConfigError, ExitStatus, StateError, UsageError, WorkersError
from lanternslide.intake.hints import Hint, Lost
from lanternslide.ledger import Ledger, keep_reserve, take_stop_request
from lanternslide.records import Scope, shown_path
from lanternslide.records.events import (
    Began,
    ConfigRefused,
    Delivered,
    Ended,
    Event,
    Finished,
    HeldBack,
    Idle,
    Listener,
    Passed,
    RequestFailed,
    Reread,
    Waits,
    Withdrawn,
)
from lanternslide.report.obstacles import Obstacles
from lanternslide.requests import SLOTS_NOTE, Reply, Request, RequestFolder
from lanternslide.storage.probe import Probe
from lanternslide.words import Command, Passing, named, say, told
from lanternslide.workers.choice import executor_for
from lanternslide.workers.executor import Answer, Executor, ExecutorBroken, ExecutorMended, News, post

__all__ = ["Service"]

CLOSING_SECONDS = 15.0
"""What a stop may take beyond the grace time: workers are ended, the ledger and the sheets are written."""

TAKE_IN_SECONDS = 0.25
"""For so long settled files are taken in before workers and owners are heard again."""

LISTEN_SECONDS = 1.0
"""How often a service looks for its owner's requests."""


class Service:
    """Does all that lies in the drop folders; as a service until it is told to stop, or once.

    Parameters
    ----------
    scope
        What it is limited to.
    reread
        Returns the settings anew, or raises ConfigError or UsageError.
    """

    def __init__(
        self,
        settings: Settings,
        ledger: Ledger,
        inbox: Inbox,
        tell: Listener,
        *,
        scope: Scope | None = None,
        reread: Callable[[], Settings] | None = None,
    ) -> None:
        self._ledger = ledger
        self._inbox = inbox
        self._listener = tell
        self._scope = scope or Scope()
        self._reread = reread
        self._supervisor = Supervisor()
        self._executor: Executor | None = None
        self.obstacles = Obstacles(self._tell)  #: What is in the way at the moment and may pass.
        self._requests = RequestFolder(ledger.folder)
        stamps = Stamps(ledger.folder / "stamps", self.obstacles)
        self._pictures = Pictures(ledger.originals, stamps, self.obstacles, self._scope, self._tell)
        probe = Probe()
        self._lasting = Lasting(
            ledger=ledger,
            pictures=self._pictures,
            scope=self._scope,
            probe=probe,
            reachability=Reachability(ledger.folders, probe),
            obstacles=self.obstacles,
            tell=self._tell,
            tick=self._show_life,
        )
        self._pause = Pause(ledger.folder, ledger.presence, inbox, self.obstacles)
        self._reading = 0
        self._unsettled: set[str] = set()  # destinations of which it cannot be told what stands there
        self._busy = False
        self._deadline: float | None = None
        self._until_idle = False
        self._furnish(settings)

    def _furnish(self, settings: Settings) -> None:
        """Make everything anew that depends on the settings."""
        self._settings = settings
        self._reading += 1
        self._limits = Limits.of(settings.service)
        parts = parts_for(settings, self._limits, self._reading, self._lasting)
        self._scanner, self._backlog = parts.scanner, parts.backlog
        self._publisher, self._deliverer = parts.publisher, parts.deliverer
        self._recovery, self._commands = parts.recovery, parts.commands
        self._notes, self._manifests, self._proofs = parts.notes, parts.manifests, parts.proofs
        self._pictures.furnish(parts.decisions, parts.transitions)
        self._folders = tuple(shown_path(owner.drop) for owner in settings.photographers.values())

    def _tell(self, event: Event) -> None:
        if isinstance(event, HeldBack | Finished):
            self._notes.is_due = True
        if isinstance(event, Delivered | Withdrawn):
            self._manifests.is_due = True
        if isinstance(event, Delivered | Withdrawn | HeldBack | Finished | Waits | Passed):
            self._proofs.is_due = True
        self._listener(event)
        self._show_life()

    def _show_life(self) -> None:
        """Give the supervisor a sign of life, if one is due and all that has to be alive is.

        Called from this thread alone, wherever something has been achieved.
        """
        now = time.monotonic()
        if self._executor is None or not self._supervisor.is_due(now):
            return
        if self._executor.ping() and self._scanner.ping():
            self._supervisor.beat(now)

    def run(self, *, until_idle: bool, supervisor: Supervisor | None = None) -> None:
        """Work until told to stop or, with *until_idle*, until nothing is left that can be done now.

        *supervisor* is who has started the service and wants to know how it is.
        """
        self._supervisor = supervisor or Supervisor()
        self._until_idle = until_idle
        self._recover()
        if not until_idle:
            self._scanner.watch(self._inbox.put)
            self._tell(Began(folders=self._folders))
        self._executor = executor = executor_for(self._settings, self._limits, self._ledger.name, self._inbox.put)
        self._pictures.stamps.catch_up(self._ledger.deliveries.newest())
        self._supervisor.ready()
        try:
            while not self._is_over(until_idle=until_idle):
                self._pause.keep(self._show_life, until_idle=until_idle or self._deadline is not None)
                self._look_around(executor)
                self._submit(executor)
                self._show_life()
                self._supervisor.say(say(Command.AT_HAND, number=len(self._scanner) + self._pictures.at_hand).text)
                self._read_inbox(executor)
                self._hear_requests()
                if not until_idle and self._take_stop_request():  # a sweep ends by itself
                    self._inbox.put(Stop())
        finally:
            self._executor = None
            self._scanner.close()
            executor.close()
            if self._ledger.presence.is_there():
                self._ledger.originals.give_back_work()
        self._notes.write()
        self._manifests.write()
        self._proofs.write()
        if not until_idle:
            self._tell(Ended())

    def _recover(self) -> None:
        """Make it as if nothing had happened: open intents settled, unfinished work waiting, stale temps gone."""
        self._go_on()
        self._ledger.originals.give_back_work()
        self._publisher.sweep_temporaries()
        try:
            self._requests.prepare()
        except OSError as error:
            self._meet_requests(error)
        self._take_stop_request()  # a former service was; this one is not
        note_settings(self._ledger, self._settings, self._limits)
        keep_reserve(self._ledger.folder)

    def _go_on(self) -> None:
        """Finish what could not be finished because a destination was away, and say which still are."""
        away = self._recovery.recover()
        for name, said in away.items():
            self.obstacles.meet(f"destination {name}", said)
        for name in self._unsettled - away.keys():
            self.obstacles.pass_by(f"destination {name}")
        self._unsettled = set(away)

    def _is_over(self, *, until_idle: bool) -> bool:
        if self._deadline is not None:
            return not self._pictures.at_work or time.monotonic() >= self._deadline
        left = not self._scanner.has_scanned or self._scanner or self._backlog or self._pictures
        if left:
            self._busy = True
        elif self._busy:
            self._busy = False
            self._ledger.renew_word()
            self._tell(Idle())
        return until_idle and not left

    # Looking

    def _look_around(self, executor: Executor) -> None:
        """Scan if it is time, wake what has rested, and take in hand what has settled."""
        if self._deadline is not None:
            return
        now = time.monotonic()
        if self._scanner.scan_if_due(now):
            self._backlog.begin()
            self._go_on()
            self._notes.is_due = self._manifests.is_due = self._proofs.is_due = True
        if self._until_idle:
            self._scanner.give_up(now - self._limits.sweep_patience())
        for file, original in self._scanner.finished():
            self._deliverer.file_away(file, original)
        self._pictures.wake(now, executor.admission)
        self._look_again()
        self._take_in(now)
        self._notes.write_if_due(now)
        self._manifests.write_if_due(now)
        self._proofs.write_if_due(now)

    def _take_in(self, now: float) -> None:
        """Take in hand what has settled and, while few are ready, older work."""
        until = time.monotonic() + TAKE_IN_SECONDS
        self._scanner.follow_leads(until - TAKE_IN_SECONDS / 2)
        for file in self._scanner.settled(now):
            self._pictures.admit(file)
            if time.monotonic() > until:
                break
        for file in self._backlog.next(self._pictures.older_ready()):
            self._pictures.admit(file)
        self._look_again()
        if self._backlog.is_cut_short:
            self._scanner.scan_now()
        if not self._backlog:
            self._pictures.stamp_older()

    def _look_again(self) -> None:
        """Have files looked at again that are in hand no more."""
        now = time.monotonic()
        for look in self._pictures.take_looks():
            if look.is_known:
                self._scanner.see(look.file, now)
            else:
                self._scanner.look_again(look.file, now)

    # Waiting

    def _read_inbox(self, executor: Executor) -> None:
        """Sleep until there is a message or something is due, and read it."""
        for item in self._inbox.read(self._seconds_to_next()):
            match item:
                case Answer():
                    is_ending = self._until_idle or self._deadline is not None
                    self._pause.keep(self._show_life, until_idle=is_ending)
                    self._pictures.advance(item, executor.admission)
                    self._look_again()
                case Hint():
                    self._scanner.follow(item, time.monotonic())
                    self._notes.is_due = True
                case Lost():
                    self._scanner.scan_now()
                case Reload():
                    self._reload()
                case Stop():
                    # A second request shortens the wait.
                    grace = self._limits.grace_seconds if self._deadline is None else 0.0
                    self._deadline = time.monotonic() + grace
                    self._supervisor.stopping(grace + CLOSING_SECONDS)
                    self._pictures.stop()
                    executor.drain()
                case _:
                    self._hear_news(item)

    def _hear_news(self, news: News) -> None:
        match news:
            case ExecutorBroken(said=said):
                if self._until_idle:
                    raise WorkersError(said)
                self.obstacles.meet("workers", said)
            case ExecutorMended():
                self.obstacles.pass_by("workers")
            case _:
                self._ledger.notes.put(SLOTS_NOTE, str(self._executor.slots if self._executor else 0))
                self._tell(news)

    def _submit(self, executor: Executor) -> None:
        """Have begun what there is room for."""
        for order in self._pictures.orders(executor.admission, executor.slots):
            post(executor.submit(order), self._inbox.put)

    def _seconds_to_next(self) -> float:
        """Return how many seconds there are until something is due."""
        now = time.monotonic()
        if self._deadline is not None:
            # Windows lets a signal in only between two waits.
            return max(0.0, min(self._deadline, now + LISTEN_SECONDS) - now)
        is_idle = not (self._scanner or self._backlog or self._pictures)
        if self._commands.is_sweeping or self._backlog.has_passed_over or (self._busy and is_idle):
            return 0.0  # there is more to do at once; or it has just become idle, which is to be said
        return max(0.0, min(self._scanner.next_due(), now + LISTEN_SECONDS, self._pictures.next_due()) - now)

    def _hear_requests(self) -> None:
        """Do what the owner's commands have asked for."""
        try:
            requests = dict(self._requests.take())
            self._commands.keep_to(requests)
            for name, request in requests.items():
                # Somebody else's sweep is done by itself once this one has ended.
                if request is not None and request.command == "sweep" and self._until_idle:
                    continue
                done = self._perform(name, request)
                if done is not None:
                    self._requests.reply(name, done)
        except OSError as error:
            self._commands.keep_to(())
            self._meet_requests(error)
        else:
            self.obstacles.pass_by("requests")

    def _take_stop_request(self) -> bool:
        try:
            is_asked = take_stop_request(self._ledger.folder)
        except OSError as error:  # it cannot be taken away, and would stop every service after this one, too
            said = say(Passing.FOLDER_TROUBLE, folder=self._ledger.folder, detail=told(error))
            self.obstacles.meet("stop file", said)
            return False
        self.obstacles.pass_by("stop file")
        return is_asked

    def _meet_requests(self, error: OSError) -> None:
        said = say(Passing.REQUESTS, folder=self._requests.folder, detail=told(error))
        self.obstacles.meet("requests", said)

    def _perform(self, name: str, request: Request | None) -> Reply | None:
        """Do what is asked for; return None if that is not done yet, and is to be gone on with."""
        try:
            if request is not None and request.command == "sweep":
                if not self._commands.is_sweeping:
                    self._reload()  # what the owner has changed in the config counts
                done = self._commands.sweep_on(name, request)
            else:
                done = self._commands.perform(request)
        except StateError:
            raise
        except Exception as error:  # noqa: BLE001 - an odd request must not stop the service; it is logged and answered
            self._tell(RequestFailed(detail=named(error), trace=traceback.format_exc()))
            done = Reply(lines=(say(Command.COULD_NOT, detail=error).text,), status=ExitStatus.USAGE)
        if done is not None:
            # What rests is tried at once too: its owner may have mended what was in the way.
            self._pictures.wake_all()
            self._scanner.scan_now()
        return done

    def _reload(self) -> None:
        """Read the config again; one that is not valid is refused, and the old one stays."""
        if self._reread is None or self._deadline is not None:
            return
        self._supervisor.reloading()
        try:
            self._take_over(self._reread())
        except (ConfigError, UsageError) as error:
            self._tell(ConfigRefused(detail=str(error)))
        finally:
            self._supervisor.ready()

    def _take_over(self, settings: Settings) -> None:
        self._scanner.close()
        self.obstacles.forget()
        self._furnish(settings)
        if self._executor is not None:
            self._executor.adapt(settings, self._limits)
            self._pictures.look_through_waiting(self._executor.admission)
            self._look_again()
        note_settings(self._ledger, self._settings, self._limits)
        if not self._until_idle:
            self._scanner.watch(self._inbox.put)
        self._tell(Reread(folders=self._folders))
