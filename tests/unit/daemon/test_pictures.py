"""Pictures from a settled file to one of their endings: real files, a real ledger, workers that are played by hand."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from lanternslide.config import Settings
from lanternslide.config.limits import Limits
from lanternslide.daemon.inbox import Inbox
from lanternslide.daemon.pictures import MOST_WAITING, Pictures
from lanternslide.daemon.transitions import Transitions
from lanternslide.delivery.notices import Stamps
from lanternslide.intake import held_for_writing
from lanternslide.intake.drop_scanner import DropScanner, ScanContext
from lanternslide.intake.hints import Hint
from lanternslide.ledger import OriginalState
from lanternslide.records import (
    Changed,
    DroppedFile,
    Job,
    JobDone,
    LeftOut,
    Made,
    Outcome,
    Refused,
    Result,
    Scope,
    Stalled,
    SurveyTask,
)
from lanternslide.records.events import (
    Delivered,
    Event,
    Failed,
    FiledAway,
    Finished,
    HeldBack,
    Passed,
    Started,
    Waits,
    Withdrawn,
)
from lanternslide.report.obstacles import Obstacles
from lanternslide.storage.probe import Probe
from lanternslide.words import Held, Passing, say
from lanternslide.workers.cluster.admission import LargestWorker
from lanternslide.workers.executor import Admission, Answer, AttemptFailed, NotBegun, Order, post
from lanternslide.workers.memory_budget import MemoryBudget
from tests.support.household import CONFIG, Household, household, survey_of, write_delivery

NOW, LATER = 1000.0, 1e9
FILING = CONFIG.replace('drop = "drop/ida"', 'drop = "drop/ida"\noriginals = "filed/ida"')
LARGER = CONFIG.replace("long_edge = 1050", "long_edge = 1200")
AWAY = say(Passing.ORIGINAL_AWAY, detail="no answer")
FULL = say(Passing.DISK_FULL, folder="out")


class ByHand:
    """An executor whose orders the test answers."""

    def __init__(self, room: Admission, slots: int = 2) -> None:
        self.admission = room
        self.slots = slots
        self.waiting: list[tuple[Order, Future[Answer]]] = []
        self.begun: list[Order] = []  #: What a worker has already.

    def submit(self, order: Order) -> Future[Answer]:
        """Let an order wait for the test's answer."""
        assert order.key not in [waiting.key for waiting, _ in self.waiting], "one order at a time for each"
        future: Future[Answer] = Future()
        self.waiting.append((order, future))
        return future

    def answer(self, order: Order, result: Result | AttemptFailed | NotBegun) -> None:
        """Say what came of an order."""
        (future,) = [future for waiting, future in self.waiting if waiting is order]
        self.waiting.remove((order, future))
        future.set_result(Answer(key=order.key, result=result))

    def drain(self) -> None:
        """Answer what waits as not begun."""
        for order, _ in list(self.waiting):
            if order not in self.begun:
                self.answer(order, NotBegun())

    def adapt(self, _settings: Settings, limits: Limits) -> None:
        """Have the memory that the limits say."""
        if isinstance(self.admission, MemoryBudget):
            self.admission.resize(limits.memory_mib, limits.workers)

    def ping(self) -> bool:
        """Return that it is."""
        return True

    def close(self) -> None:
        """End nothing: there is nothing."""


@dataclass
class Workshop:
    """A home's work, as the main loop has it."""

    home: Household
    scope: Scope = field(default_factory=Scope)
    executor: ByHand = field(default_factory=lambda: ByHand(MemoryBudget(2000, 2)))

    def __post_init__(self) -> None:
        told = self.home.told.append
        self.inbox = Inbox()
        self.obstacles = Obstacles(told)
        stamps = Stamps(self.home.ledger.folder / "stamps", self.obstacles)
        self.pictures = Pictures(self.home.ledger.originals, stamps, self.obstacles, self.scope, told)
        self.readings = 0
        self.furnish()

    def furnish(self, config: str | None = None) -> None:
        """Read the config, or another one, and go on with what it says."""
        settings = self.home.read(config)
        home, told, probe = self.home, self.home.told.append, Probe()
        self.readings += 1
        self.limits = Limits.of(settings.service)
        ask = ScanContext(
            limits=self.limits,
            watch=settings.service.watch,
            decisions=home.decisions,
            files=home.files,
            in_hand=self.pictures.is_in_hand,
            in_scope=self.scope.takes_file,
            answers=probe.answers,
            read=probe.read,
            is_filed=home.filing().is_wanted,
            tick=lambda: None,
        )
        self.scanner = DropScanner(home.photographers, home.ledger.originals, ask, self.obstacles, told)
        self.deliverer = home.deliverer(self.pictures.stamps, self.obstacles)
        transitions = Transitions(
            reading=self.readings, attempts=self.limits.attempts, planner=home.planner_for(self.scope),
            deliverer=self.deliverer, backoff=self.pictures.backoff,
            originals=home.ledger.originals, tell=told,
        )  # fmt: skip
        self.pictures.furnish(home.decisions, transitions)
        self.look_again()

    def resize(self) -> None:
        """Have as many workers and as much memory as the limits say now."""
        self.executor.adapt(self.home.settings, self.limits)
        self.pictures.look_through_waiting(self.executor.admission)
        self.look_again()

    def stop(self) -> None:
        """Begin nothing more."""
        self.pictures.stop()
        self.executor.drain()

    def wake(self, now: float) -> None:
        """Look again at what has rested long enough."""
        self.pictures.wake(now, self.executor.admission)
        self.look_again()

    def look_again(self) -> None:
        """Have the drop scanner look at what is in hand no more."""
        for look in self.pictures.take_looks():
            if look.is_known:
                self.scanner.see(look.file, NOW)
            else:
                self.scanner.look_again(look.file, NOW)

    def submit(self) -> None:
        """Begin what has room."""
        for order in self.pictures.orders(self.executor.admission, self.executor.slots):
            post(self.executor.submit(order), self.inbox.put)

    def take_in(self, *files: DroppedFile) -> None:
        """Have files settle, and begin what has room."""
        for file in files:
            self.pictures.admit(file)
        self.look_again()
        self.submit()

    def surveys(self) -> list[Order]:
        """Return the orders to survey that wait for an answer."""
        return [order for order, _ in self.executor.waiting if isinstance(order.task, SurveyTask)]

    def jobs(self) -> list[Order]:
        """Return the orders to make deliveries that wait for an answer."""
        return [order for order, _ in self.executor.waiting if isinstance(order.task, Job)]

    def answer(self, order: Order, result: Result | AttemptFailed | NotBegun) -> None:
        """Answer an order, and let the work go on with that."""
        self.executor.answer(order, result)
        self.hear()

    def hear(self) -> None:
        """Go on with all answers, and begin what has room."""
        for answer in self.inbox.read(0):
            assert isinstance(answer, Answer)
            self.pictures.advance(answer, self.executor.admission)
            self.look_again()
        self.submit()

    def survey(self, file: DroppedFile, need_mib: float = 200.0) -> None:
        """Have a file surveyed."""
        (order,) = [order for order in self.surveys() if order.key[0] == file.photographer][:1]
        self.answer(order, survey_of(file, need_mib))

    def being_made(self, file: DroppedFile) -> tuple[Order, Job]:
        """Have a file surveyed and begun; return the order to make it."""
        self.take_in(file)
        self.survey(file)
        (order,) = self.jobs()
        assert isinstance(order.task, Job)
        return order, order.task

    def make(self) -> None:
        """Have the job that is being made come out as it should."""
        (order,) = self.jobs()
        assert isinstance(order.task, Job)
        self.answer(order, all_made(order.task))

    def finish(self, file: DroppedFile) -> None:
        """Have a file go all the way."""
        self.being_made(file)
        self.make()

    def state(self, file: DroppedFile) -> OriginalState:
        """Return what an original is at."""
        return self.home.row(file).state

    def told_of(self, *kinds: type[Event]) -> list[Event]:
        """Return what was told of some kinds."""
        return [event for event in self.home.told if isinstance(event, kinds)]

    def temporaries(self) -> list[Path]:
        """Return what lies under a temporary name in a destination."""
        return [path for path in self.home.home.out().rglob(".*") if path.is_file()]

    def stamps(self) -> set[str]:
        """Return the destinations whose queue has become empty after deliveries."""
        folder = self.home.home.root / "state" / "stamps"
        return {path.name for path in folder.iterdir()} if folder.is_dir() else set()


def all_made(job: Job) -> JobDone:
    """Write every delivery of a job, and return what a worker says then."""
    return JobDone(outcomes=tuple(made_of(job)))


def made_of(job: Job) -> list[Made]:
    """Write every delivery of a job."""
    return [write_delivery(task, job.survey.digest) for task in job.deliveries]


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


@pytest.fixture
def shop(home: Household) -> Workshop:
    """Return the work on all that is dropped."""
    return Workshop(home)


# All the way


def test_an_original_goes_all_the_way(shop: Workshop) -> None:
    """Surveyed, made, delivered, and let go of; each step is told, and a sync job hears at the end."""
    file = shop.home.drop("seal@journal@club.jpg")

    shop.take_in(file)
    assert shop.pictures.is_in_hand(file)
    assert (bool(shop.pictures), shop.pictures.at_hand, shop.pictures.at_work) == (True, 1, 1)
    shop.survey(file)
    (order,) = shop.jobs()
    assert isinstance(order.task, Job)
    assert shop.told_of(Started) == [Started(file=file, deliveries=3)]
    assert shop.stamps() == set()
    shop.answer(order, all_made(order.task))

    assert [task.destination for task in order.task.deliveries] == ["journal", "journal", "club"]
    assert len(shop.told_of(Delivered)) == 3
    assert all(path.is_file() for path in shop.home.standing(file))
    assert shop.temporaries() == []
    assert shop.told_of(Finished) == [Finished(file=file, changed=True)]
    assert (shop.state(file), shop.home.is_news(file)) == (OriginalState.DELIVERED, False)
    assert (bool(shop.pictures), shop.pictures.is_in_hand(file)) == (False, False)
    assert shop.stamps() == {"journal", "club"}


def test_what_was_made_from_these_bytes_already_is_not_made_again(shop: Workshop) -> None:
    """A copy with another time is surveyed, and that is all."""
    shop.finish(shop.home.drop("seal.jpg", day=10))
    file = shop.home.drop("seal.jpg", day=11)

    shop.take_in(file)
    shop.survey(file)

    assert shop.jobs() == []
    assert shop.told_of(Finished)[-1] == Finished(file=file, changed=False)
    assert shop.state(file) is OriginalState.DELIVERED


def test_only_what_is_missing_is_made(shop: Workshop) -> None:
    """One delivery did not come about; the others stand, and are not touched again."""
    file = shop.home.drop("seal@journal@club.jpg")
    order, job = shop.being_made(file)
    *made, club = made_of(job)
    shop.answer(order, JobDone(outcomes=(*made, Stalled(said=FULL, delivery=club.delivery))))
    assert len(shop.told_of(Delivered)) == 2
    assert shop.state(file) is OriginalState.WAITING
    assert shop.told_of(Waits) == [Waits(what=file.shown, said=FULL)]

    shop.wake(LATER)
    _, again = shop.being_made(file)

    assert [task.delivery for task in again.deliveries] == [club.delivery]


# Turns and room


def test_no_more_is_begun_than_workers_are_kept_busy_with(shop: Workshop) -> None:
    """Two wait beyond the two that are done at once."""
    files = [shop.home.drop(f"{index}.jpg") for index in range(6)]

    shop.take_in(*files)

    assert len(shop.surveys()) == shop.pictures.at_work == 4
    assert shop.pictures.at_hand == 6
    shop.answer(shop.surveys()[0], Refused(said=say(Held.EMPTY)))
    assert len(shop.surveys()) == 4


def test_jobs_wait_for_room_and_fresh_ones_go_first(shop: Workshop, home: Household) -> None:
    """Two of 1200 MiB do not fit into 2000; what was dropped last goes before what is merely made again."""
    old = home.drop("old.jpg")
    home.deliver(old)
    home.ask_again(old)
    first, fresh = home.drop("first.jpg", b"1"), home.drop("fresh@club.jpg", b"2")
    for file in (first, old, fresh):
        shop.take_in(file)
        shop.survey(file, need_mib=1200)
    (running,) = shop.jobs()
    assert running.key == ("ida", Path("first.jpg"))
    assert (shop.pictures.at_hand, shop.pictures.at_work) == (3, 1)

    shop.make()

    assert [(order.key[1].name, order.urgent) for order in shop.jobs()] == [("fresh.jpg", True)]
    shop.make()
    assert [(order.key[1].name, order.urgent) for order in shop.jobs()] == [("old.jpg", False)]


def test_while_many_wait_for_room_nothing_more_is_begun(shop: Workshop) -> None:
    """Each is a file that was read for nothing if it has changed once there is room."""
    files = [shop.home.drop(f"{index:02d}.jpg", str(index).encode()) for index in range(MOST_WAITING + 6)]
    shop.take_in(*files)
    surveyed = 0
    while surveys := shop.surveys():
        file = shop.home.look(surveys[0].key[1].name)
        shop.answer(surveys[0], survey_of(file, need_mib=1700))
        surveyed += 1

    assert len(shop.jobs()) == 1
    # Those that were under way when the last place was taken may come to wait, too.
    assert 1 + MOST_WAITING <= surveyed <= 1 + MOST_WAITING + 3
    assert shop.pictures.at_hand == len(files)


def test_what_is_larger_than_the_budget_is_held_with_both_figures(shop: Workshop) -> None:
    """At once, and stops nobody else's."""
    file = shop.home.drop("panorama.jpg")

    shop.take_in(file)
    shop.survey(file, need_mib=1901)

    row = shop.home.row(file)
    assert (row.state, row.reason_key) == (OriginalState.HELD, Held.NEEDS_MORE_MEMORY)
    assert row.reason is not None
    assert "2.0 GiB" in row.reason
    assert not shop.pictures


def test_after_the_budget_has_shrunk_what_waits_is_looked_at_again(shop: Workshop, home: Household) -> None:
    """It fitted before and never will: it is found again, and held then."""
    first, second = home.drop("first.jpg", b"1"), home.drop("second.jpg", b"2")
    for file in (first, second):
        shop.take_in(file)
        shop.survey(file, need_mib=1200)
    shop.furnish(CONFIG.replace("workers = 2", 'workers = 2\nmemory = "1000 MiB"'))

    shop.resize()

    assert not shop.pictures.is_in_hand(second)
    assert shop.pictures.is_in_hand(first), "what has room already keeps it"
    assert len(shop.scanner) == 1
    assert shop.state(second) is OriginalState.WAITING


def test_what_no_worker_is_large_enough_for_rests_until_one_comes(home: Household) -> None:
    """It is woken at once then, however long it would have rested; others are not."""
    largest_worker = LargestWorker()
    largest_worker.note(2, 500.0)
    shop = Workshop(home, executor=ByHand(largest_worker))
    large, other = home.drop("panorama.jpg"), home.drop("seal.jpg")
    shop.take_in(large)
    shop.survey(large, need_mib=600)
    shop.take_in(other)
    shop.answer(shop.surveys()[0], Stalled(said=AWAY))
    assert [event.said.key for event in home.told if isinstance(event, Waits)] == [
        Passing.NO_WORKER_LARGE_ENOUGH, Passing.ORIGINAL_AWAY,
    ]  # fmt: skip

    shop.wake(0.0)
    assert len(shop.scanner) == 0
    largest_worker.note(3, 600.0)
    shop.wake(0.0)

    assert len(shop.scanner) == 1
    assert (shop.pictures.is_in_hand(large), shop.pictures.is_in_hand(other)) == (False, True)


# What becomes of a survey


def test_what_cannot_be_done_is_held(shop: Workshop) -> None:
    """At once, with the reason; nothing is tried again."""
    file, said = shop.home.drop("seal.jpg"), say(Held.CUT_SHORT, detail="60 of 100 bytes")

    shop.take_in(file)
    shop.answer(shop.surveys()[0], Refused(said=said))

    assert shop.told_of(HeldBack, Finished) == [HeldBack(file=file, said=said), Finished(file=file, changed=False)]
    assert (shop.state(file), bool(shop.pictures)) == (OriginalState.HELD, False)


def test_what_may_pass_costs_no_attempt(shop: Workshop) -> None:
    """It rests, for longer each time, and is said once; when it is over, that has passed."""
    file = shop.home.drop("seal.jpg")
    for seconds in (5, 10, 20):
        shop.take_in(file)
        earliest = time.monotonic() + seconds
        shop.answer(shop.surveys()[0], Stalled(said=AWAY))
        due = shop.pictures.next_due()
        assert earliest <= due <= time.monotonic() + seconds
        assert shop.pictures.is_in_hand(file), "a scan does not begin it again"
        shop.wake(due - 0.001)
        assert shop.pictures.next_due() == due
        shop.wake(due)
        assert shop.pictures.next_due() == math.inf
        assert not shop.pictures.is_in_hand(file)
        assert len(shop.scanner) == 1

    assert (shop.home.row(file).attempts, shop.state(file)) == (0, OriginalState.WAITING)
    shop.finish(file)
    assert shop.told_of(Waits, Passed) == [Waits(what=file.shown, said=AWAY), Passed(what=file.shown)]
    shop.take_in(shop.home.drop("seal.jpg", b"brighter"))
    earliest = time.monotonic() + 5
    shop.answer(shop.surveys()[0], Stalled(said=AWAY))
    assert earliest <= shop.pictures.next_due() <= time.monotonic() + 5, "pauses begin anew"


@pytest.mark.parametrize("is_there", [True, False])
def test_an_original_that_has_changed_meanwhile_begins_anew(shop: Workshop, *, is_there: bool) -> None:
    """A worker found it otherwise than it had settled: what is there now settles again, or is gone."""
    file = shop.home.drop("seal.jpg")
    shop.take_in(file)
    if is_there:
        shop.home.drop("seal.jpg", b"still being written")
    else:
        file.path.unlink()

    shop.answer(shop.surveys()[0], Changed())

    assert len(shop.scanner) == (1 if is_there else 0)
    assert shop.state(file) is (OriginalState.WAITING if is_there else OriginalState.GONE)
    assert shop.home.row(file).attempts == 0


@pytest.mark.parametrize("is_first", [True, False])
def test_a_destination_that_is_away_keeps_no_other_waiting(shop: Workshop, *, is_first: bool) -> None:
    """What can be delivered is, and the rest is tried again later."""
    names = ("club", "portfolio") if is_first else ("portfolio", "club")
    shop.finish(shop.home.drop("kelp@club@portfolio.jpg", b"kelp"))
    shop.home.home.out("club").rename(shop.home.home.root / "elsewhere")
    file = shop.home.drop(f"seal@{names[0]}@{names[1]}.jpg")

    _, job = shop.being_made(file)
    assert [task.destination for task in job.deliveries] == ["portfolio"]
    shop.make()

    assert shop.home.states(file) == {("portfolio", 1): "delivered", ("club", 1): "waiting"}
    assert shop.state(file) is OriginalState.WAITING
    assert [event.said.key for event in shop.home.told if isinstance(event, Waits)] == [Passing.DESTINATION_AWAY]
    assert shop.pictures.next_due() < math.inf


def test_if_all_destinations_are_away_nothing_is_made(shop: Workshop) -> None:
    """No worker decodes what cannot be put anywhere."""
    shop.finish(shop.home.drop("kelp@club.jpg", b"kelp"))
    shop.home.home.out("club").rename(shop.home.home.root / "elsewhere")
    file = shop.home.drop("seal@club.jpg")

    shop.take_in(file)
    shop.survey(file)

    assert shop.jobs() == []
    assert shop.pictures.next_due() < math.inf


# Failed attempts


@pytest.mark.parametrize("step", ["survey", "make"])
def test_a_failure_costs_an_attempt_and_the_last_one_holds(shop: Workshop, step: str) -> None:
    """A worker that dies or hangs: it is tried three times, and then its owner hears how it failed."""
    file = shop.home.drop("seal.jpg")
    for attempt in (1, 2, 3):
        if step == "survey":
            shop.take_in(file)
        else:
            _, job = shop.being_made(file)
            all_made(job)
        (order,) = shop.surveys() if step == "survey" else shop.jobs()
        shop.answer(order, AttemptFailed(detail=f"the worker died {attempt} times"))
        assert shop.temporaries() == [], "what it had written is gone"
        assert not shop.pictures
        assert len(shop.scanner) == 1

    said = say(Held.FAILED_OFTEN, attempts=3, detail="the worker died 3 times")
    assert [event.attempts for event in shop.home.told if isinstance(event, Failed)] == [1, 2, 3]
    assert shop.told_of(HeldBack) == [HeldBack(file=file, said=said)]
    assert shop.state(file) is OriginalState.HELD


def test_an_order_that_nobody_began_costs_nothing(shop: Workshop) -> None:
    """It is let go of, and found again."""
    file = shop.home.drop("seal.jpg")
    shop.take_in(file)

    shop.answer(shop.surveys()[0], NotBegun())

    assert (bool(shop.pictures), shop.pictures.is_in_hand(file)) == (False, False)
    assert (shop.home.row(file).attempts, shop.home.is_news(file)) == (0, True)
    assert shop.told_of(Failed, Finished) == []


# While it is made, the world goes on


def test_an_original_that_changes_while_it_is_made_is_not_published(shop: Workshop) -> None:
    """Nobody sees a picture that its owner has replaced already; the new one begins anew."""
    file = shop.home.drop("seal.jpg")
    order, job = shop.being_made(file)
    shop.home.drop("seal.jpg", b"brighter")

    shop.answer(order, all_made(job))

    assert (shop.told_of(Delivered), shop.temporaries()) == ([], [])
    assert len(shop.scanner) == 1
    assert shop.state(file) is OriginalState.WAITING


def test_an_original_that_is_deleted_while_it_is_made_is_gone(shop: Workshop) -> None:
    """It was removed before it was done."""
    file = shop.home.drop("seal.jpg")
    order, job = shop.being_made(file)
    file.path.unlink()

    shop.answer(order, all_made(job))

    assert (shop.told_of(Delivered), shop.temporaries()) == ([], [])
    assert shop.state(file) is OriginalState.GONE


def test_what_its_owner_takes_back_while_it_is_made_is_not_published(shop: Workshop) -> None:
    """The one that is named; the others are."""
    file = shop.home.drop("seal@portfolio@club.jpg")
    order, job = shop.being_made(file)
    shop.home.ledger.withdrawals.withdraw(shop.home.row(file).id, "club", file.fingerprint)

    shop.answer(order, all_made(job))

    assert shop.home.states(file) == {("portfolio", 1): "delivered", ("club", 1): "withdrawn"}
    assert shop.temporaries() == []
    assert shop.state(file) is OriginalState.DELIVERED


def test_a_destination_that_goes_away_at_the_last_moment_is_tried_again(shop: Workshop) -> None:
    """What was made for it is made again; the other stands."""
    shop.finish(shop.home.drop("kelp@club.jpg", b"kelp"))
    file = shop.home.drop("seal@club@portfolio.jpg")
    order, job = shop.being_made(file)
    outcomes = all_made(job)
    shop.home.home.out("club").rename(shop.home.home.root / "elsewhere")

    shop.answer(order, outcomes)

    assert shop.home.states(file)["portfolio", 1] == "delivered"
    assert shop.state(file) is OriginalState.WAITING
    assert [event.what for event in shop.home.told if isinstance(event, Waits)] == [file.shown]
    assert (shop.pictures.next_due() < math.inf, shop.home.row(file).attempts) == (True, 0)


def test_what_is_too_small_is_left_out_and_what_stood_of_it_goes(shop: Workshop) -> None:
    """It shows a former export, which was larger."""
    shop.finish(shop.home.drop("seal@journal.jpg", b"large"))
    single, double = shop.home.standing(shop.home.look("seal@journal.jpg"))
    file = shop.home.drop("seal@journal.jpg", b"small")
    order, job = shop.being_made(file)
    one, two = job.deliveries
    outcomes: tuple[Outcome, ...] = (write_delivery(one, job.survey.digest), LeftOut(delivery=two.delivery))

    shop.answer(order, JobDone(outcomes=outcomes))

    assert (single.is_file(), double.is_file()) == (True, False)
    assert shop.home.states(file) == {("journal", 1): "delivered", ("journal", 2): "left out"}
    assert shop.told_of(Withdrawn) == [Withdrawn(original=file.shown, destination="journal", output=str(double))]
    assert shop.state(file) is OriginalState.DELIVERED


def test_a_new_export_waits_until_the_former_one_has_ended(shop: Workshop) -> None:
    """One at a time of each picture: it is looked at again, and does not begin beside it."""
    file = shop.home.drop("seal.jpg")
    shop.take_in(file)
    newer = shop.home.drop("seal@club.jpg", b"brighter")

    shop.take_in(newer)

    assert len(shop.surveys()) == 1
    assert shop.pictures.at_hand == 1
    assert len(shop.scanner) == 1


def test_a_cluster_without_workers_at_the_moment_keeps_what_waits(home: Household) -> None:
    """When the config is read again every worker is looked at anew: there is none, and no job is too large for none."""
    workers = LargestWorker()
    workers.note(2, 4000.0)
    shop = Workshop(home, executor=ByHand(workers))
    file = home.drop("seal.jpg")
    shop.take_in(file)
    shop.pictures.advance(_surveyed(shop, file), workers)
    assert shop.pictures.at_hand == 1

    workers.note(0, 0.0)
    shop.furnish()
    shop.resize()

    assert shop.pictures.at_hand == 1
    assert (len(shop.scanner), shop.state(file)) == (0, OriginalState.WORKING)


def test_a_new_export_takes_the_place_of_older_work(shop: Workshop, home: Household) -> None:
    """It does not wait for the turn of what was to be made again."""
    files = [home.drop(f"{index}.jpg", str(index).encode()) for index in range(6)]
    for file in files:
        home.deliver(file)
        home.ask_again(file)
    shop.take_in(*files)
    assert shop.pictures.older_ready() == {"ida": 2}
    newer = home.drop("5@club.jpg", b"brighter")

    shop.pictures.admit(newer)

    assert shop.pictures.older_ready() == {"ida": 1}
    assert (shop.pictures.is_in_hand(newer), shop.pictures.is_in_hand(files[5])) == (True, False)
    shop.answer(shop.surveys()[0], NotBegun())
    assert shop.surveys()[-1].key == ("ida", Path("5.jpg"))


def test_a_new_export_takes_the_place_of_one_that_rests(shop: Workshop) -> None:
    """Nothing is woken for the former one any more."""
    file = shop.home.drop("seal.jpg")
    shop.take_in(file)
    shop.answer(shop.surveys()[0], Stalled(said=AWAY))
    newer = shop.home.drop("seal@club.jpg", b"brighter")

    shop.take_in(newer)

    assert shop.pictures.next_due() == math.inf
    assert (shop.pictures.is_in_hand(newer), shop.pictures.is_in_hand(file)) == (True, False)
    assert len(shop.surveys()) == 1


def test_a_name_that_is_no_more_is_in_nobodys_way(shop: Workshop) -> None:
    """Whoever renames a picture that rests does not hear of its former name again."""
    file = shop.home.drop("seal.jpg")
    shop.take_in(file)
    shop.answer(shop.surveys()[0], Stalled(said=AWAY))
    assert shop.obstacles
    file.path.unlink()

    shop.take_in(shop.home.drop("seal@club.jpg", b"brighter"))

    assert not shop.obstacles


def test_a_picture_that_was_removed_is_in_nobodys_way(shop: Workshop) -> None:
    """What was in its way ends with it."""
    file = shop.home.drop("seal.jpg")
    shop.take_in(file)
    shop.answer(shop.surveys()[0], Stalled(said=AWAY))
    file.path.unlink()

    shop.scanner.follow(Hint(photographer="ida", path=file.relative), NOW)

    assert shop.state(file) is OriginalState.GONE
    assert not shop.obstacles


def test_what_is_outdated_by_now_is_in_nobodys_way(shop: Workshop) -> None:
    """A picture that a newer one has replaced while it waited is done with, whatever was in its way."""
    older = shop.home.drop("seal.jpg")
    shop.take_in(older)
    shop.answer(shop.surveys()[0], Stalled(said=AWAY))
    shop.finish(shop.home.drop("seal@club.jpg", b"brighter"))
    shop.obstacles.meet(older.shown, AWAY)

    shop.take_in(older)

    assert not shop.obstacles
    assert shop.told_of(Finished)[-1] == Finished(file=older, changed=False)


def test_what_was_taken_back_while_it_settled_is_not_begun(shop: Workshop, home: Household) -> None:
    """Whoever shows progress hears that it is done with."""
    file = home.drop("seal.jpg")
    home.ledger.withdrawals.withdraw(home.item(file).original, None, file.fingerprint)

    shop.take_in(file)

    assert shop.surveys() == []
    assert shop.told_of(Finished) == [Finished(file=file, changed=False)]


def test_what_is_outdated_is_not_noted(shop: Workshop, home: Household) -> None:
    """Whether its path is known or not: the newer one stays the picture; that nothing is to be done is told."""
    former = home.drop("seal@club.jpg", b"former", day=8)
    shop.finish(former)
    newer = home.drop("seal.jpg", day=10)
    shop.finish(newer)
    home.told.clear()
    for name in ("seal@journal.jpg", "seal@club.jpg"):
        older = home.drop(name, b"older", day=9)
        shop.take_in(older)
        assert home.told[-1] == Finished(file=older, changed=False)
    assert shop.surveys() == []
    assert home.row(newer).state is OriginalState.DELIVERED


def test_what_its_owner_asks_for_again_while_it_is_made_is_looked_at_again(shop: Workshop, home: Household) -> None:
    """A delivery that came to wait meanwhile is made without another scan."""
    file = home.drop("seal@portfolio@club.jpg")
    order, job = shop.being_made(file)
    made, _ = made_of(job)

    shop.answer(order, JobDone(outcomes=(made,)))

    assert shop.state(file) is OriginalState.WAITING
    assert len(shop.scanner) == 1


# What a sweep is limited to


@pytest.mark.parametrize(
    ("name", "made"), [("seal@journal.jpg", []), ("seal@clubb.jpg", []), ("seal@club@journal.jpg", ["club"])]
)
def test_one_destination_alone(home: Household, name: str, made: list[str]) -> None:
    """What does not go there is neither begun nor held; of what does, the rest waits for another time."""
    shop = Workshop(home, scope=Scope(only="club"))
    file = home.drop(name)

    shop.take_in(file)
    if made:
        shop.survey(file)
        (order,) = shop.jobs()
        assert isinstance(order.task, Job)
        assert [task.destination for task in order.task.deliveries] == made
        shop.answer(order, all_made(order.task))

    assert [event.record.destination for event in home.told if isinstance(event, Delivered)] == made
    assert home.told_of(HeldBack) == []
    assert home.told_of(Finished) == [Finished(file=file, changed=bool(made))]
    assert home.is_news(file)
    assert len(shop.scanner) == 0


# The config is read again


def test_what_is_ready_is_found_again_after_the_config_was_read(shop: Workshop) -> None:
    """What rests too; what a worker has goes on."""
    files = [shop.home.drop(f"{index}.jpg") for index in range(6)]
    shop.take_in(files[0])
    shop.answer(shop.surveys()[0], Stalled(said=AWAY))
    shop.take_in(*files[1:])

    shop.furnish()

    assert [shop.pictures.is_in_hand(file) for file in files] == [False, True, True, True, True, False]
    assert shop.pictures.next_due() == math.inf


@pytest.mark.parametrize(
    ("config", "state"),
    [
        (CONFIG, OriginalState.DELIVERED),
        (CONFIG.replace("long_edge = 1600", "long_edge = 1800"), OriginalState.DELIVERED),
        (LARGER, OriginalState.WAITING),
        (CONFIG.replace("out/{photographer}/portfolio", "out/{photographer}/site"), OriginalState.WAITING),
        (CONFIG.replace('otherwise = ["portfolio"]', 'otherwise = ["club"]'), OriginalState.WAITING),
        (
            CONFIG.replace("densities = [1, 2]", "").replace(
                'otherwise = ["portfolio"]', 'otherwise = ["portfolio", "journal"]'
            ),
            OriginalState.WAITING,
        ),
        # In the drop folder that counts now there is no such original.
        (CONFIG.replace('drop = "drop/ida"', 'drop = "drop/kept"'), OriginalState.GONE),
        (CONFIG.replace("[photographers.ida]", "[photographers.pell]"), OriginalState.WAITING),
    ],
)
def test_what_was_made_by_the_former_config_counts_only_if_it_is_still_wanted_so(
    shop: Workshop, config: str, state: OriginalState
) -> None:
    """Otherwise it is thrown away and looked at again; another destination's change concerns nobody."""
    (shop.home.home.root / "drop" / "kept").mkdir()
    file = shop.home.drop("seal.jpg")
    order, job = shop.being_made(file)
    shop.furnish(config)

    shop.answer(order, all_made(job))

    assert len(shop.told_of(Delivered)) == (state is OriginalState.DELIVERED)
    assert shop.temporaries() == []
    assert shop.state(file) is state


@pytest.mark.parametrize("value", ["survey", "refused", "failure"])
def test_what_was_found_under_the_former_config_is_found_out_again(shop: Workshop, value: str) -> None:
    """A limit or a name may have changed: neither is it held, nor does it cost an attempt."""
    file = shop.home.drop("seal.jpg")
    shop.take_in(file)
    shop.furnish()

    (order,) = shop.surveys()
    if value == "failure":
        shop.answer(order, AttemptFailed(detail="the worker died"))
    else:
        shop.answer(order, survey_of(file) if value == "survey" else Refused(said=say(Held.EMPTY)))

    assert len(shop.scanner) == 1
    assert (shop.state(file), shop.home.row(file).attempts) == (OriginalState.WAITING, 0)
    assert (shop.jobs(), shop.told_of(HeldBack, Failed)) == ([], [])


# Stopping


def test_nothing_is_begun_once_it_is_told_to_stop(shop: Workshop) -> None:
    """Neither what is ready nor what was just surveyed; it is as if it had only been found."""
    files = [shop.home.drop(f"{index}.jpg") for index in range(6)]
    shop.take_in(*files)

    shop.stop()
    shop.hear()

    assert shop.executor.waiting == []
    assert shop.pictures.at_work == 0
    assert {shop.home.row(file).attempts for file in files} == {0}


def test_what_runs_may_finish_within_the_grace_time(shop: Workshop) -> None:
    """Its deliveries are published; a survey leads no further, and a worker that is ended costs no attempt."""
    made, surveyed, ended = (shop.home.drop(name, name.encode()) for name in ("a.jpg", "b.jpg", "c.jpg"))
    order, job = shop.being_made(made)
    for file in (surveyed, ended):
        shop.take_in(file)
    b, c = shop.surveys()
    shop.executor.begun += [order, b, c]
    shop.stop()

    shop.answer(order, all_made(job))
    shop.answer(b, survey_of(surveyed))
    shop.answer(c, AttemptFailed(detail="the worker was ended"))

    states = [shop.state(file) for file in (made, surveyed, ended)]
    assert states == [OriginalState.DELIVERED, OriginalState.WAITING, OriginalState.WAITING]
    assert shop.home.row(ended).attempts == 0
    assert shop.jobs() == []
    assert shop.told_of(Failed) == []
    assert not shop.pictures


# Older work, and stamps


def test_older_work_is_stamped_once_when_none_is_left(shop: Workshop, home: Household) -> None:
    """Neither when it is ready nor when it is being made, so that a sync job does not run for each."""
    files = [home.drop(f"{index}.jpg", str(index).encode()) for index in range(2)]
    for file in files:
        home.deliver(file)
        home.ask_again(file)
    shop.executor.slots = 0
    for file in files:
        shop.pictures.admit(file)
    shop.pictures.stamp_older()
    shop.submit()
    for file, order in zip(files, shop.surveys(), strict=True):
        shop.answer(order, survey_of(file))
        assert shop.stamps() == set()
        shop.make()
        assert shop.stamps() == set()
        if file is files[0]:
            shop.pictures.stamp_older()
            assert shop.stamps() == set()

    shop.pictures.stamp_older()

    assert shop.stamps() == {"portfolio"}


# Filing away


def test_a_finished_original_is_filed_away(home: Household) -> None:
    """Only after every delivery stands, and where its owner wants that."""
    home.read(FILING)
    (home.home.root / "filed").mkdir()
    shop = Workshop(home)
    file = home.drop("seal@portfolio@club.jpg")
    order, job = shop.being_made(file)
    one, two = made_of(job)
    shop.answer(order, JobDone(outcomes=(one, Stalled(said=FULL, delivery=two.delivery))))
    assert file.path.is_file()
    shop.wake(LATER)

    shop.finish(file)

    target = home.home.root / "filed" / "ida" / "seal@portfolio@club.jpg"
    assert home.told_of(FiledAway) == [FiledAway(file=file, to=str(target))]
    assert (file.path.exists(), target.is_file()) == (False, True)


def test_where_filing_is_not_possible_it_stays_and_that_is_said(home: Household) -> None:
    """Once for each photographer, until it is possible again; the deliveries stand all the same."""
    home.read(FILING)
    shop = Workshop(home)
    files = [home.drop(f"{index}.jpg", str(index).encode()) for index in range(2)]
    for file in files:
        shop.finish(file)
        assert shop.state(file) is OriginalState.DELIVERED
        assert file.path.is_file()
    waits = [(event.what, event.said.key) for event in home.told if isinstance(event, Waits)]
    assert waits == [("ida: filing", Passing.FILING_AWAY)]

    (home.home.root / "filed").mkdir()
    for file in files:
        shop.deliverer.file_away(file, home.row(file).id)

    assert home.told_of(Passed) == [Passed(what="ida: filing")]
    assert not any(file.path.exists() for file in files)


def test_what_was_exported_again_is_not_filed(home: Household) -> None:
    """The new one has to be done first."""
    home.read(FILING)
    (home.home.root / "filed").mkdir()
    shop = Workshop(home)
    file = home.drop("seal.jpg")
    home.deliver(file)
    home.drop("seal.jpg", b"brighter")

    shop.deliverer.file_away(file, home.row(file).id)

    assert file.path.is_file()
    assert home.told_of(FiledAway) == []


def test_what_somebody_writes_into_is_not_filed(home: Household) -> None:
    """It is about to be another export, though it looks as it did."""
    home.read(FILING)
    (home.home.root / "filed").mkdir()
    shop = Workshop(home)
    file = home.drop("seal.jpg")
    home.deliver(file)
    with file.path.open("ab"):
        if not held_for_writing(file.path):
            pytest.skip("the system does not tell who writes a file here")
        shop.deliverer.file_away(file, home.row(file).id)
        assert file.path.is_file()

    shop.deliverer.file_away(file, home.row(file).id)
    assert not file.path.exists()


def _surveyed(shop: Workshop, file: DroppedFile) -> Answer:
    """Return the answer to the order to survey a file, without going on with it."""
    (order,) = shop.surveys()
    shop.executor.answer(order, survey_of(file, 200.0))
    (answer,) = shop.inbox.read(0)
    assert isinstance(answer, Answer)
    return answer
