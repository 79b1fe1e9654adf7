"""What becomes of what a worker has made: real files and a real ledger."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.records import Job, LeftOut, Outcome, Scope, Stalled, SurveyedItem
from lanternslide.records.events import Delivered, Withdrawn
from lanternslide.words import Passing, say
from tests.support.household import CONFIG, Household, household, write_delivery

FULL = say(Passing.DISK_FULL, folder="out")


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


def job_of(home: Household, name: str, content: bytes = b"original") -> tuple[SurveyedItem, Job]:
    """Have an original dropped and surveyed; return it with its job."""
    item = home.item(home.drop(name, content))
    job, stalled = home.planner_for(Scope()).prepare_job(item)
    assert job is not None
    assert stalled is None
    return item, job


def made(job: Job) -> tuple[Outcome, ...]:
    """Write every delivery of a job."""
    return tuple(write_delivery(task, job.survey.digest) for task in job.deliveries)


@pytest.mark.parametrize(
    ("config", "is_outdated"),
    [
        (CONFIG, False),
        (CONFIG.replace("long_edge = 1600", "long_edge = 1800"), False),
        (CONFIG.replace("long_edge = 1050", "long_edge = 1200"), True),
        (CONFIG.replace("out/{photographer}/portfolio", "out/{photographer}/site"), True),
        (CONFIG.replace('otherwise = ["portfolio"]', 'otherwise = ["club"]'), True),
        (CONFIG.replace('drop = "drop/ida"', 'drop = "drop/kept"'), True),
        (CONFIG.replace("[photographers.ida]", "[photographers.pell]"), True),
    ],
)
def test_a_changed_config_outdates_what_it_touches(home: Household, config: str, *, is_outdated: bool) -> None:
    """What the config asks for in the same way as before counts, whatever else has changed."""
    item, job = job_of(home, "seal.jpg")
    home.read(config)

    assert home.deliverer().is_outdated(item, job, is_reread=True) is is_outdated


def test_a_changed_original_outdates_what_was_made_of_it(home: Household) -> None:
    """Nobody sees a picture that its owner has replaced already."""
    item, job = job_of(home, "seal.jpg")
    assert not home.deliverer().is_outdated(item, job, is_reread=False)

    home.drop("seal.jpg", b"brighter")

    assert home.deliverer().is_outdated(item, job, is_reread=False)


def test_each_delivery_is_published_for_itself(home: Household) -> None:
    """What is in the way of one is told, and the others stand."""
    item, job = job_of(home, "seal@portfolio@club.jpg")
    first, second = made(job)
    assert second.delivery is not None

    stalled = home.deliverer().deliver(item, job, (first, Stalled(said=FULL, delivery=second.delivery)))

    assert stalled == FULL
    assert home.states(item.file) == {("portfolio", 1): "delivered", ("club", 1): "waiting"}
    assert len(home.told_of(Delivered)) == 1


def test_what_was_taken_back_meanwhile_is_thrown_away(home: Household) -> None:
    """The one that is named; the others are published."""
    item, job = job_of(home, "seal@portfolio@club.jpg")
    outcomes = made(job)
    home.ledger.withdrawals.withdraw(item.original, "club", item.file.fingerprint)

    assert home.deliverer().deliver(item, job, outcomes) is None

    assert home.states(item.file) == {("portfolio", 1): "delivered", ("club", 1): "withdrawn"}
    assert not any(task.temporary.exists() for task in job.deliveries)


def test_what_is_left_out_takes_its_former_export_along(home: Household) -> None:
    """What stands of a larger export shows another picture."""
    home.deliver(home.drop("seal@journal.jpg", b"large"))
    single, double = home.standing(home.look("seal@journal.jpg"))
    item, job = job_of(home, "seal@journal.jpg", b"small")
    one, two = job.deliveries
    outcomes = (write_delivery(one, job.survey.digest), LeftOut(delivery=two.delivery))

    assert home.deliverer().deliver(item, job, outcomes) is None

    assert (single.is_file(), double.is_file()) == (True, False)
    assert home.told_of(Withdrawn) == [Withdrawn(original=item.file.shown, destination="journal", output=str(double))]
