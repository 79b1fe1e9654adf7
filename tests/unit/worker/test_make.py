"""Making all deliveries of an original: what is written, what is said of it, and what stalls one of them alone."""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from lanternslide.imaging.colour.srgb import srgb_profile
from lanternslide.records import (
    Changed,
    DeliveryTask,
    Fingerprint,
    JobDone,
    LeftOut,
    Made,
    Outcome,
    Recompression,
    Refused,
    Rights,
    Stalled,
    Watermark,
)
from lanternslide.records.record import ForecastFigures
from lanternslide.words import Doubt, Held, Note, Passing, say
from lanternslide.worker import make
from tests.scenario.spaces import ROMM
from tests.support.chain import recipe
from tests.support.orders import delivery, job_for
from tests.support.pictures import landscape, save_jpeg, size_of

RECIPE = recipe(60)


@pytest.fixture
def original(tmp_path: Path) -> Path:
    """Return an original."""
    return save_jpeg(tmp_path / "north-stack.jpg", 120, 80)


def made_of(original: Path, *deliveries: DeliveryTask) -> dict[int, Outcome]:
    """Return what becomes of each delivery."""
    answer = make(job_for(original, *deliveries))
    assert isinstance(answer, JobDone), answer
    outcomes = answer.outcomes
    assert len({outcome.delivery for outcome in outcomes}) == len(outcomes) == len(deliveries)
    return {outcome.delivery: outcome for outcome in outcomes if outcome.delivery is not None}


def made_one(original: Path, **how: Any) -> Made:
    """Return what is said of the only delivery of an original."""
    found = made_of(original, delivery(1, replace(RECIPE, **how), original.parent / ".one.part"))[1]
    assert isinstance(found, Made), found
    return found


def keys(made: Made) -> list[str]:
    """Return the keys of what is said of a delivery."""
    return [doubt.key for doubt in made.findings]


def test_each_delivery_is_the_file_that_is_told(original: Path, tmp_path: Path) -> None:
    """Its bytes, digest and size are those of what lies under the temporary name, once for each."""
    small, large = tmp_path / ".small.part", tmp_path / ".large.part"

    found = made_of(original, delivery(1, RECIPE, small), delivery(2, recipe(90), large))

    for number, path, size in ((1, small, (60, 40)), (2, large, (90, 60))):
        made, data = found[number], path.read_bytes()
        assert isinstance(made, Made)
        assert (made.bytes, made.digest) == (len(data), hashlib.sha256(data).hexdigest())
        assert (made.figures.width, made.figures.height) == size_of(path) == size
        assert made.shown is None


def test_the_same_job_gives_the_same_bytes(original: Path, tmp_path: Path) -> None:
    """Two runs of one job write equal files, beside other deliveries or alone."""
    first, second = tmp_path / ".first.part", tmp_path / ".second.part"
    made_of(original, delivery(1, RECIPE, first))
    made_of(original, delivery(1, recipe(90), tmp_path / ".other.part"), delivery(2, RECIPE, second))

    assert first.read_bytes() == second.read_bytes()


@pytest.mark.parametrize(
    "change",
    [
        lambda path: path.unlink(),
        lambda path: os.utime(path, ns=(1, 1)),
        lambda path: save_jpeg(path, 100, 60, seed=5),
    ],
    ids=["gone", "touched", "replaced"],
)
def test_what_changed_after_its_survey_is_not_made(
    original: Path, tmp_path: Path, change: Callable[[Path], object]
) -> None:
    """A stale result is never published: nothing is written, and no attempt is counted."""
    temporary = tmp_path / ".stale.part"
    job = job_for(original, delivery(1, RECIPE, temporary))
    change(original)

    assert make(job) == Changed()
    assert not temporary.exists()


@pytest.mark.skipif(sys.platform == "win32", reason="links are for administrators there")
def test_a_link_below_the_drop_folder_is_not_followed(original: Path, tmp_path: Path) -> None:
    """A folder that became a link after the survey leads nowhere."""
    (tmp_path / "drop").mkdir()
    (tmp_path / "drop" / "folder").symlink_to(original.parent)
    job = job_for(original, delivery(1, RECIPE, tmp_path / ".x.part"))
    inside = tmp_path / "drop" / "folder" / original.name

    assert make(replace(job, root=tmp_path / "drop", path=inside)) == Changed()
    assert not (tmp_path / ".x.part").exists()
    assert isinstance(make(replace(job, root=tmp_path / "drop" / "folder", path=inside)), JobDone)


def test_a_damaged_original_is_refused_whole(original: Path, tmp_path: Path) -> None:
    """What ends before the picture does cannot be done at any size; nothing is written."""
    job = job_for(original, delivery(1, RECIPE, tmp_path / ".cut.part"))
    data = original.read_bytes()
    original.write_bytes(data[: len(data) * 2 // 3])
    job = replace(job, fingerprint=Fingerprint.of(original.stat()))

    answer = make(job)

    assert isinstance(answer, Refused)
    assert answer.said.key == Held.CUT_SHORT.value
    assert not (tmp_path / ".cut.part").exists()


def test_a_folder_that_went_away_stalls_its_own_delivery_only(original: Path, tmp_path: Path) -> None:
    """One destination away: the other delivery is made all the same."""
    here, away = tmp_path / ".here.part", tmp_path / "away" / ".away.part"

    found = made_of(original, delivery(1, RECIPE, here), delivery(2, RECIPE, away))

    assert isinstance(found[1], Made)
    assert here.is_file()
    stalled = found[2]
    assert isinstance(stalled, Stalled)
    assert stalled.said.key == Passing.FOLDER_TROUBLE.value


def test_a_mark_that_cannot_be_had_stalls_its_own_delivery_only(original: Path, tmp_path: Path) -> None:
    """Nothing is delivered without its mark, and nobody else waits for it."""
    marked = replace(RECIPE, mark=Watermark(image=str(tmp_path / "gone.png")))

    found = made_of(
        original, delivery(1, RECIPE, tmp_path / ".plain.part"), delivery(2, marked, tmp_path / ".marked.part")
    )

    assert isinstance(found[1], Made)
    stalled = found[2]
    assert isinstance(stalled, Stalled)
    assert stalled.said.key == Passing.MARK_UNREADABLE.value
    assert not (tmp_path / ".marked.part").exists()


def test_a_mark_stands_in_its_own_delivery_only(original: Path, tmp_path: Path) -> None:
    """One decode serves both: the mark of one leaves the other as it is alone."""
    alone, beside, marked = (tmp_path / f".{name}.part" for name in ("alone", "beside", "marked"))
    with_mark = replace(RECIPE, mark=Watermark(text="Ida Marrow", height=0.3, opacity=1.0))
    made_of(original, delivery(1, RECIPE, alone))
    made_of(original, delivery(1, with_mark, marked), delivery(2, RECIPE, beside))

    assert beside.read_bytes() == alone.read_bytes()
    with Image.open(marked) as one, Image.open(alone) as other:
        apart = np.abs(np.asarray(one).astype(int) - np.asarray(other)).max(axis=2)
    assert apart[24:].max() > 100  # the lower right corner
    assert apart[:16, :16].max() < 8


def test_what_an_original_is_too_small_for_is_left_out(original: Path, tmp_path: Path) -> None:
    """The sibling that is made says so."""
    found = made_of(
        original,
        delivery(1, RECIPE, tmp_path / ".1x.part", destination="journal"),
        delivery(2, RECIPE, tmp_path / ".3x.part", destination="journal", density=3),
    )

    assert found[2] == LeftOut(delivery=2)
    assert isinstance(found[1], Made)
    assert keys(found[1]) == [Note.DENSITY_LEFT_OUT.value]
    assert not (tmp_path / ".3x.part").exists()


def test_doubts_of_the_name_the_file_and_the_plan_are_all_told(tmp_path: Path) -> None:
    """Whoever doubts first is told first: routing, the header, the pixels, the plan, what was measured."""
    original = tmp_path / "grey-seal.png"
    picture = Image.new("RGBA", (60, 40), (255, 255, 255, 255))
    picture.putpixel((0, 0), (0, 0, 0, 0))
    picture.save(original)
    doubted = say(Doubt.TAG_KEPT, tag="home")
    job = job_for(original, delivery(1, recipe(100), tmp_path / ".x.part"))

    answer = make(replace(job, findings=(doubted,)))

    assert isinstance(answer, JobDone)
    (made,) = answer.outcomes
    assert isinstance(made, Made)
    assert made.findings[0] == doubted
    assert keys(made) == [
        word.value
        for word in (
            Doubt.TAG_KEPT, Note.SRGB_ASSUMED, Note.TRANSPARENCY, Doubt.SMALLER_THAN_ASKED, Note.PURE_WHITE,
        )
    ]  # fmt: skip


def test_doubts_and_notes_are_told_apart(tmp_path: Path) -> None:
    """Whatever asks nothing of the owner is a note."""
    plain = tmp_path / "plain.png"
    landscape(120, 80).save(plain)

    made = made_one(plain, quality=1, min_ssim=0.9999)

    assert [note.key for note in made.notes] == [Note.SRGB_ASSUMED.value]
    assert [doubt.key for doubt in made.doubts] == [Doubt.UNLIKE.value]


@pytest.mark.parametrize(("quality", "ssim", "expected"), [(90, None, []), (1, 0.9999, [Doubt.UNLIKE.value])])
def test_a_quality_that_misses_its_aim_is_doubted(
    original: Path, quality: int, ssim: float | None, expected: list[str]
) -> None:
    """The owner's quality is taken, and what it costs is told."""
    assert keys(made_one(original, quality=quality, min_ssim=ssim)) == expected


def test_rights_that_a_bare_destination_leaves_out_are_told(tmp_path: Path) -> None:
    """An author in the original is missed where pictures go bare; where rights travel there is nothing to tell."""
    original, exif = tmp_path / "seal.jpg", Image.Exif()
    exif[0x013B] = "Juno Pell"
    landscape(120, 80).save(original, icc_profile=srgb_profile(), exif=exif)

    assert keys(made_one(original, metadata="bare")) == [Note.RIGHTS_LEFT_BEHIND.value]
    assert keys(made_one(original, metadata="rights")) == []
    assert made_one(original, metadata="rights").about.creator == "Juno Pell"


def test_the_year_of_a_file_is_told_where_it_stands_for_that_of_capture(original: Path) -> None:
    """Only where the notice asks for a year, and the picture has none."""
    at = datetime(2019, 6, 1, tzinfo=UTC).timestamp()
    os.utime(original, (at, at))

    made = made_one(original, rights=Rights(copyright="© {year} Ida Marrow"))

    assert [doubt for doubt in made.findings if doubt.key == Note.YEAR_OF_FILE.value] == [
        say(Note.YEAR_OF_FILE, year="2019")
    ]
    assert made.about.copyright == "© 2019 Ida Marrow"
    assert made.captured is None
    assert keys(made_one(original, rights=Rights(copyright="© Ida Marrow"))) == []


def test_a_forecast_is_made_where_the_destination_has_an_operator(original: Path) -> None:
    """It is of the file that is delivered: smaller than it, and less like the rendering."""
    asked = made_one(original, forecast=Recompression(long_edge=60, quality=40, chroma="4:2:0"))

    assert made_one(original).figures.forecast is None
    left = asked.figures.forecast
    assert isinstance(left, ForecastFigures)
    assert left.bytes < asked.bytes
    assert left.ssim is not None
    assert asked.figures.ssim is not None
    assert left.ssim < asked.figures.ssim


def test_small_pictures_are_written_for_those_who_want_them(original: Path, tmp_path: Path) -> None:
    """They are called by the delivery's digest; a folder that does not take them stops nothing."""
    day = tmp_path / "2026-11-26"
    day.mkdir()

    found = made_of(
        original,
        delivery(1, RECIPE, tmp_path / ".1.part", proofs=day),
        delivery(2, recipe(70), tmp_path / ".2.part"),
        delivery(3, recipe(80), tmp_path / ".3.part", proofs=tmp_path / "gone"),
    )

    first, second, third = (found[number] for number in (1, 2, 3))
    assert isinstance(first, Made)
    assert first.shown is not None
    assert first.shown.pictures == f"2026-11-26/{first.digest[:16]}"
    assert {path.name[:16] for path in day.iterdir()} == {first.digest[:16]}
    for other in (second, third):
        assert isinstance(other, Made)
        assert other.shown is None


def test_steps_in_the_original_are_told_of_every_size(tmp_path: Path) -> None:
    """They are the original's; a size so small that it does not show them is doubted all the same, and once."""
    original = tmp_path / "dusk.png"
    ramp = np.linspace(40, 60, 320)[None, :].repeat(240, axis=0)
    codes = np.stack([ramp, ramp * 0.9, ramp * 1.1], axis=-1)
    Image.fromarray(np.rint(codes).astype(np.uint8)).save(original, icc_profile=ROMM.profile())

    alone = made_of(original, delivery(1, recipe(8), tmp_path / ".tiny.part"))[1]
    both = made_of(
        original, delivery(1, recipe(8), tmp_path / ".tiny.part"), delivery(2, recipe(300), tmp_path / ".x.part")
    )

    assert isinstance(alone, Made)
    assert Doubt.POSTERISED.value not in keys(alone)
    for made in both.values():
        assert isinstance(made, Made)
        assert keys(made).count(Doubt.POSTERISED.value) == 1
