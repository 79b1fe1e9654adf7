"""Saying what would be done with an original: its header is read, and nothing is decoded or written."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.records import Changed, JobDone, Made, Refused, Sharpening, SizeRule, Survey, Traced, TraceTask
from lanternslide.words import Doubt, Held, Note
from lanternslide.worker import make, survey, trace
from tests.support.chain import recipe
from tests.support.orders import delivery, job_for, survey_task
from tests.support.pictures import save_jpeg

RECIPE = replace(recipe(60, chroma="4:2:0"), sharpening=Sharpening(strength=0.5, steps=2))


@pytest.fixture
def original(tmp_path: Path) -> Path:
    """Return an original that is stored on its side; upright it has 160 × 240 pixels."""
    return save_jpeg(tmp_path / "mast.jpg", 240, 160, orientation=6)


def traced(task: TraceTask) -> Traced:
    """Return what would be done."""
    found = trace(task)
    assert isinstance(found, Traced), found
    return found


def test_what_is_foreseen_is_what_is_made(original: Path, tmp_path: Path) -> None:
    """Sizes, rungs, strength, chroma and profile are those on the record; the need of memory is the survey's."""
    task = survey_task(original, (RECIPE, 1.0))
    found, surveyed = traced(TraceTask(survey=task, destinations=("club",))), survey(task)
    answer = make(job_for(original, delivery(1, RECIPE, tmp_path / ".x.part")))

    assert isinstance(surveyed, Survey)
    assert isinstance(answer, JobDone)
    (made,) = answer.outcomes
    assert isinstance(made, Made)
    figures, (plan,) = made.figures, found.plans
    assert (plan.destination, plan.density) == ("club", 1.0)
    assert (plan.width, plan.height) == (figures.width, figures.height) == (40, 60)
    assert plan.rungs == ((80, 120), (40, 60))
    assert figures.rungs == (120, 60)
    assert (plan.strength, plan.chroma, plan.progressive) == (figures.strength, figures.chroma, True)
    assert (plan.enlarged, plan.acutance) == (False, 1 + 0.35 * 0.5)
    assert (found.width, found.height, found.bits, found.kind) == (160, 240, 8, "JPEG")
    assert (found.profile, found.need_mib) == (figures.original_file.profile, surveyed.need_mib)


def test_nothing_is_decoded_or_written(original: Path, tmp_path: Path) -> None:
    """Damage among the pixels is not foreseen."""
    data = original.read_bytes()
    original.write_bytes(data[: len(data) * 2 // 3])

    assert len(traced(TraceTask(survey=survey_task(original, (RECIPE, 1.0)), destinations=("club",))).plans) == 1
    assert list(tmp_path.iterdir()) == [original]


def test_plans_stand_in_the_order_of_the_config_and_know_what_is_left_out(original: Path) -> None:
    """A destination's larger density before its smaller one, as it was asked for; what has no room is told."""
    wanted = (RECIPE, 2.0), (RECIPE, 1.0), (RECIPE, 5.0), (recipe(500), 1.0)

    found = traced(
        TraceTask(survey=survey_task(original, *wanted), destinations=("journal", "journal", "journal", "club"))
    )

    assert [(plan.destination, plan.density) for plan in found.plans] == [
        ("journal", 2.0), ("journal", 1.0), ("club", 1.0),
    ]  # fmt: skip
    assert found.left_out == (("journal", 5.0),)
    assert [[doubt.key for doubt in plan.findings] for plan in found.plans] == [
        [], [Note.DENSITY_LEFT_OUT.value], [Doubt.SMALLER_THAN_ASKED.value],
    ]  # fmt: skip
    assert found.findings == ()


def test_enlarging_and_doubts_of_the_file_are_foreseen(tmp_path: Path) -> None:
    """Where it is asked for, a small original becomes larger, without sharpening."""
    original = save_jpeg(tmp_path / "seal.jpg", 60, 40)
    data = original.read_bytes()
    start = data.index(b"\xff\xe2")  # the profile's segment (ICC.1:2022, B.4)
    original.write_bytes(data[:start] + data[start + 2 + int.from_bytes(data[start + 2 : start + 4]) :])
    larger = replace(RECIPE, size=SizeRule(rule="long_edge", values=(90,), enlarge=True))

    found = traced(TraceTask(survey=survey_task(original, (larger, 1.0)), destinations=("club",)))

    (plan,) = found.plans
    assert (plan.width, plan.height, plan.enlarged, plan.strength) == (90, 60, True, 0.0)
    assert (found.profile, [doubt.key for doubt in found.findings]) == ("sRGB, assumed", [Note.SRGB_ASSUMED.value])


def test_it_answers_as_a_survey_does(original: Path) -> None:
    """Refused beyond the limit and by what is no picture; nothing of what has changed."""
    task = TraceTask(survey=replace(survey_task(original), max_megapixels=0.0383), destinations=())
    refused = trace(task)
    assert isinstance(refused, Refused)
    assert refused.said.key == Held.TOO_MANY_PIXELS.value
    assert isinstance(trace(replace(task, survey=replace(task.survey, max_megapixels=0.0384))), Traced)

    original.write_bytes(b"")
    assert trace(task) == Changed()
    empty = trace(TraceTask(survey=survey_task(original), destinations=()))
    assert isinstance(empty, Refused)
    assert empty.said.key == Held.EMPTY.value
