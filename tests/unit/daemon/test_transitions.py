"""What follows a stage that a worker has answered, case by case: real files, a real ledger, real memory."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.daemon.delivering import Deliverer
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
from lanternslide.daemon.transitions import Transitions
from lanternslide.ledger import OriginalState
from lanternslide.records import Changed, Job, JobDone, Refused, Result, Scope, Stalled, SurveyedItem, Traced
from lanternslide.records.events import Delivered, Failed
from lanternslide.words import Held, Passing, say
from lanternslide.workers.backoff import Backoff
from lanternslide.workers.cluster.admission import LargestWorker
from lanternslide.workers.executor import Admission, AttemptFailed, NotBegun
from lanternslide.workers.memory_budget import MemoryBudget
from tests.support.household import Household, household, survey_of, write_delivery

READING = 3
AWAY, EMPTY = say(Passing.ORIGINAL_AWAY, detail="no answer"), say(Held.EMPTY)
ROOM = MemoryBudget(2000, 2)
TRACED = Traced(width=1, height=1, bits=8, kind="JPEG", profile=None, need_mib=1.0, plans=(), left_out=(), findings=())


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


def transitions(home: Household, backoff: Backoff | None = None, scope: Scope | None = None) -> Transitions:
    """Return what decides, by the config as it was read last."""
    return Transitions(
        reading=READING, attempts=3, planner=home.planner_for(scope or Scope()), deliverer=home.deliverer(),
        backoff=backoff or Backoff(), originals=home.ledger.originals, tell=home.told.append,
    )  # fmt: skip


def surveying(item: SurveyedItem, reading: int = READING) -> Surveying:
    """Return the stage of a picture that a worker looks at."""
    return Surveying(item=item, reading=reading)


def making(home: Household, item: SurveyedItem, reading: int = READING) -> Making:
    """Return the stage of a picture whose deliveries a worker makes."""
    job, stalled = home.planner.prepare_job(item)
    assert job is not None
    return Making(item=item, reading=reading, job=job, stalled=stalled)


def after(
    home: Household, stage: Surveying | Making, result: Result | AttemptFailed | NotBegun, *, is_stopping: bool = False,
    admission: Admission = ROOM,
) -> Stage | Ending:  # fmt: skip
    """Return what follows."""
    return transitions(home).conclude(stage, result, admission, is_stopping=is_stopping)


FAILED = AttemptFailed(detail="the worker died")


@pytest.mark.parametrize("is_making", [False, True])
@pytest.mark.parametrize(
    ("result", "reading", "is_stopping", "follows"),
    [
        (NotBegun(), READING, False, LetGo()),
        (NotBegun(), READING - 1, True, LetGo()),
        (Refused(said=EMPTY), READING, False, Hold(said=EMPTY)),
        (Refused(said=EMPTY), READING, True, Hold(said=EMPTY)),
        (Refused(said=EMPTY), READING - 1, False, LookAgain()),
        (Changed(), READING, False, LookAgain()),
        (FAILED, READING, False, TryAgain()),
        (FAILED, READING, True, LetGo()),
        (FAILED, READING - 1, False, LookAgain()),
        (Stalled(said=AWAY), READING - 1, False, LookAgain()),
    ],
)
def test_what_a_worker_says_of_either_stage_ends_it_alike(
    home: Household, result: Result, reading: int, follows: Ending, *, is_making: bool, is_stopping: bool
) -> None:
    """What was found under a former reading of the config is found out again."""
    item = home.item(home.drop("seal.jpg"))
    stage = making(home, item, reading) if is_making else surveying(item, reading)

    assert after(home, stage, result, is_stopping=is_stopping) == follows


def test_what_may_pass_rests_for_longer_each_time(home: Household) -> None:
    """Five seconds, then ten; nothing is noted of an attempt."""
    item, backoff = home.item(home.drop("seal.jpg")), Backoff()
    for seconds in (5, 10):
        earliest = time.monotonic() + seconds
        rests = transitions(home, backoff).conclude(surveying(item), Stalled(said=AWAY), ROOM, is_stopping=False)
        assert isinstance(rests, Resting)
        assert earliest <= rests.due <= time.monotonic() + seconds
        assert (rests.said, rests.need_mib) == (AWAY, None)
    assert home.row(item.file).attempts == 0


def test_the_last_attempt_holds(home: Household) -> None:
    """And its owner hears how it failed."""
    item = home.item(home.drop("seal.jpg"))

    found = [after(home, surveying(item), FAILED) for _ in range(3)]

    said = say(Held.FAILED_OFTEN, attempts=3, detail="the worker died")
    assert found == [TryAgain(), TryAgain(), Hold(said=said)]
    assert [event.attempts for event in home.told if isinstance(event, Failed)] == [1, 2, 3]


# After a survey


def test_a_job_waits_for_memory(home: Household) -> None:
    """With all that is still to be made; the original is noted as being worked on."""
    file = home.drop("seal@journal@club.jpg")
    item = home.item(file)

    waits = after(home, surveying(item), survey_of(file))

    assert isinstance(waits, WaitingForMemory)
    assert [(task.destination, task.density) for task in waits.job.deliveries] == [
        ("journal", 1), ("journal", 2), ("club", 1),
    ]  # fmt: skip
    assert (waits.stalled, waits.reading) == (None, READING)
    assert home.row(file).state is OriginalState.WORKING


def test_a_survey_leads_no_further_while_the_service_stops(home: Household) -> None:
    """It is as if it had only been found."""
    file = home.drop("seal.jpg")

    assert after(home, surveying(home.item(file)), survey_of(file), is_stopping=True) == LetGo()
    assert home.row(file).state is OriginalState.WAITING


def test_where_everything_stands_nothing_is_made(home: Household) -> None:
    """A copy with another time is surveyed, and that is all."""
    home.deliver(home.drop("seal.jpg", day=10))
    file = home.drop("seal.jpg", day=11)

    assert after(home, surveying(home.item(file)), survey_of(file)) == Finish(changed=False)


def test_what_never_fits_is_held_and_what_may_fit_later_rests(home: Household) -> None:
    """The whole budget is known here; a larger worker may join a cluster."""
    file = home.drop("panorama.jpg")
    item, largest_worker = home.item(file), LargestWorker()
    largest_worker.note(2, 500.0)

    held = after(home, surveying(item), survey_of(file, need_mib=1901))
    rests = after(home, surveying(item), survey_of(file, need_mib=600), admission=largest_worker)

    assert isinstance(held, Hold)
    assert held.said.key == Held.NEEDS_MORE_MEMORY
    assert isinstance(rests, Resting)
    assert (rests.said.key, rests.need_mib) == (Passing.NO_WORKER_LARGE_ENOUGH, 600)


def test_where_no_destination_is_there_it_rests(home: Household) -> None:
    """No worker decodes what cannot be put anywhere."""
    home.deliver(home.drop("kelp@club.jpg", b"kelp"))
    home.home.out("club").rename(home.home.root / "elsewhere")
    file = home.drop("seal@club.jpg")

    rests = after(home, surveying(home.item(file)), survey_of(file))

    assert isinstance(rests, Resting)
    assert rests.said.key == Passing.DESTINATION_AWAY


# After a job


def done(stage: Making) -> JobDone:
    """Write every delivery of a job, and return what a worker says then."""
    digest = stage.job.survey.digest
    return JobDone(outcomes=tuple(write_delivery(task, digest) for task in stage.job.deliveries))


@pytest.mark.parametrize("is_stopping", [False, True])
def test_what_was_made_is_published(home: Household, *, is_stopping: bool) -> None:
    """Also while the service stops."""
    stage = making(home, home.item(home.drop("seal.jpg")))

    assert after(home, stage, done(stage), is_stopping=is_stopping) == Finish(changed=True)
    assert [path.is_file() for path in home.standing(stage.item.file)] == [True]
    assert len(home.told_of(Delivered)) == 1


def test_what_stalls_rests_with_the_others_delivered(home: Household) -> None:
    """Whatever was in the way: from the beginning, or told by the worker."""
    stage = making(home, home.item(home.drop("seal@portfolio@club.jpg")))
    first, second = done(stage).outcomes
    assert second.delivery is not None
    half = JobDone(outcomes=(first, Stalled(said=AWAY, delivery=second.delivery)))

    rests = after(home, stage, half)
    before = after(home, replace(stage, stalled=AWAY), half)

    assert isinstance(rests, Resting)
    assert rests.said == AWAY
    assert isinstance(before, Resting)


def test_what_is_wanted_no_more_is_thrown_away(home: Household) -> None:
    """The original has changed meanwhile; or nobody waits for the result."""
    stage = making(home, home.item(home.drop("seal.jpg")))
    made = done(stage)
    home.drop("seal.jpg", b"brighter")

    assert after(home, stage, made) == LookAgain()
    assert not any(task.temporary.exists() for task in stage.job.deliveries)
    done(stage)
    assert after(home, stage, FAILED) == TryAgain()
    assert not any(task.temporary.exists() for task in stage.job.deliveries)


def test_an_answer_to_another_question_is_a_fault(home: Household) -> None:
    """Nobody asked a worker in hand what would be done."""
    with pytest.raises(AssertionError, match="Traced answers Surveying"):
        after(home, surveying(home.item(home.drop("seal.jpg"))), TRACED)


def test_what_nobody_began_has_left_nothing(home: Household, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stop asks no destination's folder for each job that waits: one of them may hang."""
    stage = making(home, home.item(home.drop("seal.jpg")))
    discarded: list[Job] = []
    monkeypatch.setattr(Deliverer, "discard", lambda _self, job: discarded.append(job))

    assert after(home, stage, NotBegun(), is_stopping=True) == LetGo()
    assert discarded == []
    after(home, stage, Changed())
    assert discarded == [stage.job]
