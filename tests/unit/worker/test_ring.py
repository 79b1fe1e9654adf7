"""A ring-around: every detail on its sheet is a part of what would be delivered."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from lanternslide.records import Changed, Fingerprint, Recipe, Recompression, Refused, Sharpening, Stalled, Watermark
from lanternslide.records.ring import RingCell, Ringed, RingTask, RingVariant
from lanternslide.words import Command, Doubt, Held, Note, Passing
from lanternslide.worker import make, ring
from tests.support.chain import Array8, decoded, recipe
from tests.support.orders import delivery, job_for
from tests.support.pictures import save_jpeg

NONE = RingVariant(sharpening=Sharpening(strength=0.0), label="no sharpening")
OWN = RingVariant(sharpening=Sharpening(), label="strength 1, in one step", is_own=True)
STRONG = RingVariant(sharpening=Sharpening(strength=2.0), label="strength 2, in one step")
SMALL = 80, 53
"""A delivery that is smaller than a detail is shown whole."""


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an original."""
    return save_jpeg(tmp_path_factory.mktemp("drop") / "north-stack.jpg", 600, 400)


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    """Return where the sheet goes."""
    return tmp_path / "sheet.png"


def task_for(original: Path, sheet: Path, *rows: tuple[RingVariant, ...], how: Recipe, **more: Any) -> RingTask:
    """Return the task of a ring-around."""
    return RingTask(
        root=original.parent, path=original, fingerprint=Fingerprint.of(original.stat()), recipe=how, rows=rows,
        sheet=sheet, **{"at": None, "most_mib": 4000.0, "max_megapixels": 100.0, **more},
    )  # fmt: skip


def ringed(task: RingTask) -> Ringed:
    """Return what is on the sheet."""
    found = ring(task)
    assert isinstance(found, Ringed), found
    return found


def shown(sheet: Path, cell: RingCell) -> Array8:
    """Return the pixels of a detail on its sheet."""
    left, top, width, height = cell.box
    with Image.open(sheet) as picture:
        return np.asarray(picture.convert("RGB"))[top : top + height, left : left + width]


def delivered(original: Path, how: Recipe, folder: Path) -> Array8:
    """Return the pixels of a delivery."""
    make(job_for(original, delivery(1, how, folder / ".delivered.part")))
    return decoded((folder / ".delivered.part").read_bytes())


@pytest.mark.parametrize("how", [recipe(400), replace(recipe(400), mark=Watermark(text="Ida Marrow", height=0.5))])
def test_a_detail_is_a_part_of_the_delivery(original: Path, sheet: Path, how: Recipe) -> None:
    """Pixel by pixel, its mark included; each variant as a destination of that strength would have it."""
    found = ringed(task_for(original, sheet, (NONE, OWN), (STRONG,), how=how))

    left, top = found.place
    assert (found.picture, [len(row) for row in found.rows]) == ((400, 267), [2, 1])
    assert [[cell.label for cell in row] for row in found.rows] == [[NONE.label, OWN.label], [STRONG.label]]
    for cell, variant in ((found.rows[0][1], OWN), (found.rows[1][0], STRONG)):
        whole = delivered(original, replace(how, sharpening=variant.sharpening), sheet.parent)
        assert (cell.is_own, cell.sharpening) == (variant.is_own, variant.sharpening)
        np.testing.assert_array_equal(shown(sheet, cell), whole[top : top + 240, left : left + 320])


def test_the_figures_follow_the_strength(original: Path, sheet: Path) -> None:
    """Stronger is steeper, and takes more bytes."""
    none, own, strong = ringed(task_for(original, sheet, (NONE, OWN, STRONG), how=recipe(400))).rows[0]

    assert none.acutance is not None
    assert own.acutance is not None
    assert strong.acutance is not None
    assert none.acutance < own.acutance < strong.acutance
    assert (
        own.acutance < 1.35 + 0.05
    )  # what strength 1 aims at (design, section 5), as far as the limits on halos allow
    assert none.bytes < own.bytes < strong.bytes
    assert {cell.quality for cell in (none, own, strong)} == {90}


@pytest.mark.parametrize(
    ("at", "place"),
    [((200, 133), (40, 13)), ((0, 0), (0, 0)), ((399, 266), (80, 27))],
    ids=["middle", "first pixel", "last pixel"],
)
def test_what_is_named_lies_in_the_middle(
    original: Path, sheet: Path, at: tuple[int, int], place: tuple[int, int]
) -> None:
    """As far as the picture reaches: of 400 × 267 pixels, 320 × 240 are shown."""
    assert ringed(task_for(original, sheet, (OWN,), how=recipe(400), at=at)).place == place


@pytest.mark.parametrize("at", [(400, 0), (0, 267)])
def test_a_place_outside_the_delivery_is_refused(original: Path, sheet: Path, at: tuple[int, int]) -> None:
    """The answer says how large it is; nothing is written."""
    refused = ring(task_for(original, sheet, (OWN,), how=recipe(400), at=at))

    assert isinstance(refused, Refused)
    assert refused.said.key == Command.OUTSIDE_PICTURE.value
    assert "400 × 267" in refused.said.text
    assert not sheet.exists()


def test_without_a_place_it_shows_where_the_picture_is_sharpest(original: Path, sheet: Path) -> None:
    """Lines stand in the lower half of this picture."""
    left, top = ringed(task_for(original, sheet, (OWN,), how=recipe(500))).place

    assert top + 120 > 333 / 2
    assert 0 <= left <= 500 - 320


def test_a_delivery_that_is_smaller_than_a_detail_is_shown_whole(original: Path, sheet: Path) -> None:
    """Every detail on the sheet has its size."""
    found = ringed(task_for(original, sheet, (OWN,), how=recipe(80)))

    assert (found.place, found.picture) == ((0, 0), SMALL)
    assert found.rows[0][0].box[2:] == SMALL


def test_an_operator_has_a_row_of_two(original: Path, sheet: Path) -> None:
    """What is left of today's delivery, and of one that has exactly the operator's size."""
    operator = Recompression(long_edge=60, quality=95, chroma="4:4:4")
    how = replace(recipe(90), forecast=operator)

    found = ringed(task_for(original, sheet, (NONE, OWN), how=how))

    _, (now, exact) = found.rows
    assert (now.size, exact.size) == ((60, 40), (60, 40))
    assert now.sharpening is None
    assert exact.sharpening is None
    assert now.bytes == found.rows[0][1].bytes > exact.bytes
    assert now.left is not None
    assert exact.left is not None
    assert now.left.ssim is not None
    assert exact.left.ssim is not None
    assert now.left.ssim < exact.left.ssim  # it is compared with the finished picture of that size


def test_an_operators_own_rounding_is_no_matter(original: Path, sheet: Path) -> None:
    """Half of 100 × 67 pixels is 33.5 high, half of 100 × 66.7 is not: what is compared has not one size."""
    how = replace(recipe(100), forecast=Recompression(long_edge=50, quality=60, chroma="4:2:0"))

    now, exact = ringed(task_for(original, sheet, (OWN,), how=how)).rows[1]

    assert (now.size, exact.size) == ((50, 34), (50, 33))
    assert now.left is not None
    assert now.left.ssim is not None
    assert 0.8 < now.left.ssim < 1


def test_a_delivery_smaller_than_what_is_kept_stays_as_it_is_there(original: Path, sheet: Path) -> None:
    """It is compared with itself."""
    how = replace(recipe(60), forecast=Recompression(long_edge=90, quality=95, chroma="4:4:4"))

    now, exact = ringed(task_for(original, sheet, (OWN,), how=how)).rows[1]

    assert (now.size, exact.size) == ((60, 40), (90, 60))
    assert now.left is not None
    assert now.left.ssim is not None
    assert now.left.ssim > 0.95


@pytest.mark.parametrize(
    ("rows", "operator"),
    [(((NONE, STRONG),), Recompression(long_edge=60, quality=60, chroma="4:2:0")), (((OWN,),), None)],
)
def test_without_an_operator_or_an_own_way_there_is_no_such_row(
    original: Path, sheet: Path, rows: tuple[tuple[RingVariant, ...], ...], operator: Recompression | None
) -> None:
    """There is nothing to tell of today's delivery then."""
    found = ringed(task_for(original, sheet, *rows, how=replace(recipe(90), forecast=operator)))

    assert len(found.rows) == 1


def test_the_sheet_is_told_as_it_is(original: Path, sheet: Path) -> None:
    """Its size is the PNG's, and every detail lies inside it, none over another."""
    found = ringed(task_for(original, sheet, (NONE, OWN), (STRONG,), how=recipe(80)))

    with Image.open(sheet) as picture:
        assert (picture.format, picture.size) == ("PNG", (found.width, found.height))
    taken = np.zeros((found.height, found.width), int)
    for cell in (*found.rows[0], *found.rows[1]):
        left, top, width, height = cell.box
        taken[top : top + height, left : left + width] += 1
    assert taken.sum() == 3 * SMALL[0] * SMALL[1]
    assert taken.max() == 1


@pytest.mark.parametrize(
    ("limits", "word"),
    [({"max_megapixels": 0.239}, Held.TOO_MANY_PIXELS), ({"most_mib": 100.0}, Held.NEEDS_MORE_MEMORY)],
)
def test_what_is_too_large_is_refused_before_it_is_decoded(
    original: Path, sheet: Path, limits: dict[str, float], word: Held
) -> None:
    """0.24 megapixels, and more memory than a worker takes that does nothing."""
    how = recipe(80)

    refused = ring(task_for(original, sheet, (OWN,), how=how, **limits))

    assert isinstance(refused, Refused)
    assert refused.said.key == word.value
    assert not sheet.exists()
    assert isinstance(ring(task_for(original, sheet, (OWN,), how=how, max_megapixels=0.24)), Ringed)


def test_doubts_of_the_file_and_the_size_are_told(tmp_path: Path, sheet: Path) -> None:
    """A picture without a profile that is smaller than asked for."""
    original = tmp_path / "seal.png"
    Image.new("RGB", (60, 40), (120, 130, 140)).save(original)

    found = ringed(task_for(original, sheet, (OWN,), how=recipe(80)))

    assert [doubt.key for doubt in found.findings] == [Note.SRGB_ASSUMED.value, Doubt.SMALLER_THAN_ASKED.value]
    assert found.rows[0][0].acutance is None  # nothing but one colour


@pytest.mark.parametrize(
    "change",
    [lambda path: path.unlink(), lambda path: os.utime(path, ns=(1, 1))],
    ids=["gone", "touched"],
)
def test_what_has_changed_has_no_ring_around(tmp_path: Path, sheet: Path, change: Callable[[Path], object]) -> None:
    """It is another picture by now."""
    task = task_for(save_jpeg(tmp_path / "x.jpg", 60, 40), sheet, (OWN,), how=recipe(30))
    change(task.path)

    assert ring(task) == Changed()
    assert not sheet.exists()


def test_a_sheet_whose_folder_is_gone_is_no_fault_of_the_original(original: Path, tmp_path: Path) -> None:
    """It may pass, and is told as such."""
    answer = ring(task_for(original, tmp_path / "gone" / "sheet.png", (OWN,), how=recipe(30)))

    assert isinstance(answer, Stalled)
    assert answer.said.key == Passing.FOLDER_TROUBLE.value
