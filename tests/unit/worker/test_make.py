"""The worker's functions on real files: what they answer when the world changes under them."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.records import (
    DeliveryTask,
    Fingerprint,
    Job,
    Made,
    Recipe,
    Refused,
    Sharpening,
    SizeRule,
    Stalled,
    Survey,
    SurveyTask,
    Traced,
    TraceTask,
)
from lanternslide.words import Doubt, Held, Passing
from lanternslide.worker import make, survey, trace
from tests.support.pictures import save_jpeg

RECIPE = Recipe(
    size=SizeRule(rule="long_edge", values=(300,)),
    sharpening=Sharpening(),
    quality=90,
    chroma="4:4:4",
    progressive=True,
)


@pytest.fixture
def original(tmp_path: Path) -> Path:
    """Return an original."""
    return save_jpeg(tmp_path / "north-stack.jpg", 600, 400)


def task_for(original: Path) -> SurveyTask:
    """Return the task to survey *original* as it is now."""
    return SurveyTask(
        root=original.parent, path=original, fingerprint=Fingerprint.of(original.stat()), max_megapixels=100
    )


def job_for(original: Path, *temporaries: Path) -> Job:
    """Return the job that makes a delivery under each of the temporary names."""
    found = survey(task_for(original))
    assert isinstance(found, Survey)
    deliveries = tuple(
        DeliveryTask(delivery=number, destination=f"place-{number}", density=1, recipe=RECIPE, temporary=temporary)
        for number, temporary in enumerate(temporaries, 1)
    )
    return Job(
        original=1,
        photographer="ida",
        root=original.parent,
        path=original,
        fingerprint=Fingerprint.of(original.stat()),
        survey=found,
        deliveries=deliveries,
    )


def test_the_same_job_gives_the_same_bytes(original: Path, tmp_path: Path) -> None:
    """Two runs of one job write equal files."""
    first, second = tmp_path / ".first.part", tmp_path / ".second.part"
    make(job_for(original, first))
    make(job_for(original, second))

    assert first.read_bytes() == second.read_bytes()


def test_what_changed_since_it_settled_is_not_surveyed(original: Path) -> None:
    """A file that is no longer what had settled has no survey; it is looked at again."""
    task = task_for(original)
    with original.open("ab") as stream:
        stream.write(b"more")

    assert survey(task) is None


def test_what_changed_after_its_survey_is_not_made(original: Path, tmp_path: Path) -> None:
    """A stale result is never published: nothing is written."""
    temporary = tmp_path / ".stale.part"
    job = job_for(original, temporary)
    os.utime(original, ns=(1, 1))

    assert make(job) is None
    assert not temporary.exists()


def test_what_is_gone_is_neither_surveyed_nor_made(original: Path, tmp_path: Path) -> None:
    """A file that its owner has removed is no failure."""
    task, job = task_for(original), job_for(original, tmp_path / ".gone.part")
    original.unlink()

    assert survey(task) is None
    assert make(job) is None


def test_a_link_in_place_of_the_original_is_not_followed(original: Path, tmp_path: Path) -> None:
    """A link that has taken the original's place leads nowhere."""
    task = task_for(original)
    original.rename(tmp_path / "elsewhere.jpg")
    original.symlink_to(tmp_path / "elsewhere.jpg")

    answer = survey(task)

    assert answer is None or isinstance(answer, Stalled)


def test_a_folder_that_went_away_stalls_its_own_delivery_only(original: Path, tmp_path: Path) -> None:
    """One destination away: the other delivery is made all the same."""
    here, away = tmp_path / ".here.part", tmp_path / "away" / ".away.part"

    answer = make(job_for(original, here, away))

    assert isinstance(answer, tuple)
    by_delivery = {outcome.delivery: outcome for outcome in answer}
    assert isinstance(by_delivery[1], Made)
    stalled = by_delivery[2]
    assert isinstance(stalled, Stalled)
    assert stalled.said.key == Passing.FOLDER_TROUBLE


def test_more_pixels_than_allowed_are_refused_by_the_header(original: Path) -> None:
    """The limit on megapixels holds before anything is decoded."""
    answer = survey(replace(task_for(original), max_megapixels=0.1))

    assert isinstance(answer, Refused)
    assert answer.said.key == Held.TOO_MANY_PIXELS


@pytest.mark.parametrize("folder_by_folder", [True, False])
def test_no_link_below_the_drop_folder_is_followed(
    original: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, folder_by_folder: bool
) -> None:
    """A folder or a file that became a link after it was looked at leads nowhere; a link up to the drop folder does.

    Windows cannot open folder by folder; it looks at each.
    """
    if not folder_by_folder:
        monkeypatch.setattr(os, "supports_dir_fd", frozenset())
    task = task_for(original)
    drop, outside = tmp_path / "drop", tmp_path / "outside"
    drop.mkdir()
    outside.mkdir()
    original.rename(outside / "x.jpg")
    (drop / "folder").symlink_to(outside)
    (drop / "x.jpg").symlink_to(outside / "x.jpg")
    (tmp_path / "way").symlink_to(outside)

    assert survey(replace(task, root=drop, path=drop / "folder" / "x.jpg")) is None
    assert survey(replace(task, root=drop, path=drop / "x.jpg")) is None
    assert isinstance(survey(replace(task, root=tmp_path / "way", path=tmp_path / "way" / "x.jpg")), Survey)


def test_what_is_read_is_what_was_opened(original: Path, tmp_path: Path) -> None:
    """A file that is replaced while it is surveyed is noticed, whatever has been read of it."""
    job = job_for(original, tmp_path / ".x.part")
    save_jpeg(original, 500, 300, seed=5)

    assert make(job) is None
    assert not (tmp_path / ".x.part").exists()


def test_a_trace_foresees_what_is_made(original: Path, tmp_path: Path) -> None:
    """Size, rungs, strength, chroma and the need of memory are those of the survey and of what is made."""
    task = replace(task_for(original), wanted=((RECIPE, 1.0), (RECIPE, 4.0)))
    found = trace(TraceTask(survey=task, destinations=("club", "club")))
    surveyed, made = survey(task), make(job_for(original, tmp_path / ".x.part"))

    assert isinstance(found, Traced)
    assert isinstance(surveyed, Survey)
    assert isinstance(made, tuple)
    assert isinstance(made[0], Made)
    figures = made[0].figures
    (plan,) = found.plans
    assert (plan.width, plan.height) == (figures.width, figures.height) == (300, 200)
    assert tuple(max(rung) for rung in plan.rungs) == figures.rungs
    assert (plan.strength, plan.chroma) == (figures.strength, figures.chroma)
    assert (found.kind, found.bits, found.profile) == ("JPEG", 8, figures.profile)
    assert found.need_mib == surveyed.need_mib
    assert found.left_out == (("club", 4.0),)
    assert [doubt.key for doubt in plan.doubts] == [Doubt.DENSITY_LEFT_OUT]


def test_a_trace_answers_as_a_survey_does(original: Path) -> None:
    """Refused beyond the limit, nothing of what has changed."""
    task = TraceTask(survey=replace(task_for(original), max_megapixels=0.1), destinations=())

    refused = trace(task)
    assert isinstance(refused, Refused)
    assert refused.said.key == Held.TOO_MANY_PIXELS
    original.unlink()
    assert trace(task) is None
