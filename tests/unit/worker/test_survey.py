"""A worker's first look at an original: what it is, what it will take, and whether it may be made."""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile

from lanternslide.imaging.reading.read import read_header
from lanternslide.records import Changed, Recipe, Refused, Survey
from lanternslide.words import Held, Word
from lanternslide.worker.survey import check_size, needed_mib, survey
from tests.support.chain import recipe
from tests.support.orders import survey_task
from tests.support.pictures import save_jpeg


def _jpeg_on_its_side(folder: Path) -> Path:
    return save_jpeg(folder / "mast.jpg", 60, 40, orientation=6)


def _deep_tiff(folder: Path) -> Path:
    path = folder / "seal.tif"
    tifffile.imwrite(path, np.zeros((40, 60, 3), np.uint16), photometric="rgb")
    return path


@pytest.mark.parametrize(
    ("make", "size", "bits", "kind"),
    [(_jpeg_on_its_side, (40, 60), 8, "JPEG"), (_deep_tiff, (60, 40), 16, "TIFF")],
)
def test_an_original_is_known_by_its_bytes_and_its_header(
    tmp_path: Path, make: Callable[[Path], Path], size: tuple[int, int], bits: int, kind: str
) -> None:
    """The digest is that of the whole file; sizes are upright."""
    original = make(tmp_path)

    found = survey(survey_task(original))

    assert isinstance(found, Survey)
    assert found.digest == hashlib.sha256(original.read_bytes()).hexdigest()
    assert ((found.width, found.height), found.bits, found.kind) == (size, bits, kind)


def test_the_limit_on_megapixels_is_reached_exactly(tmp_path: Path) -> None:
    """60 × 40 pixels are 0.0024 megapixels: allowed at that limit, and refused below it, by the header alone."""
    original = save_jpeg(tmp_path / "seal.jpg", 60, 40)
    task = survey_task(original)

    assert isinstance(survey(replace(task, max_megapixels=0.0024)), Survey)
    refused = survey(replace(task, max_megapixels=0.0023))
    assert isinstance(refused, Refused)
    assert refused.said.key == Held.TOO_MANY_PIXELS.value


def test_a_refusal_says_both_figures(tmp_path: Path) -> None:
    """Its owner reads how large it is and what the config allows."""
    header = replace(read_header(save_jpeg(tmp_path / "seal.jpg", 60, 40)), stored_width=40_000, stored_height=30_000)

    with pytest.raises(Exception, match=r"has 1200 megapixels; the config allows 1000 "):
        check_size(header, 1000)
    check_size(header, 1200)


@pytest.mark.parametrize(
    ("content", "word"),
    [(b"", Held.EMPTY), (b"a shopping list, and no picture at all", Held.NOT_A_PICTURE)],
)
def test_what_cannot_be_read_is_refused_with_its_reason(tmp_path: Path, content: bytes, word: Word) -> None:
    """It cannot pass by itself, so nobody tries it again."""
    original = tmp_path / "seal.jpg"
    original.write_bytes(content)

    refused = survey(survey_task(original))

    assert isinstance(refused, Refused)
    assert refused.said.key == word.value


@pytest.mark.parametrize(
    "change",
    [
        lambda path: path.unlink(),
        lambda path: path.write_bytes(path.read_bytes() + b"more"),
        lambda path: save_jpeg(path, 60, 40, seed=5),
    ],
    ids=["gone", "longer", "replaced"],
)
def test_what_has_changed_since_it_settled_has_no_survey(tmp_path: Path, change: Callable[[Path], object]) -> None:
    """A file that its owner works on is no failure; it is looked at again."""
    original = save_jpeg(tmp_path / "seal.jpg", 60, 40)
    task = survey_task(original)
    change(original)

    assert survey(task) == Changed()


@pytest.mark.skipif(sys.platform == "win32", reason="links are for administrators there")
def test_links_are_followed_up_to_the_drop_folder_and_none_below(tmp_path: Path) -> None:
    """Nobody leads the service out of it."""
    outside, drop = tmp_path / "outside", tmp_path / "drop"
    outside.mkdir()
    drop.mkdir()
    save_jpeg(outside / "seal.jpg", 60, 40)
    (drop / "folder").symlink_to(outside)
    inside = drop / "folder" / "seal.jpg"

    assert isinstance(survey(survey_task(inside, root=drop / "folder")), Survey)
    assert survey(survey_task(inside, root=drop)) == Changed()


SMALL, LARGE = recipe(300), recipe(900)


@pytest.mark.parametrize(
    ("less", "more"),
    [
        ((), ((SMALL, 1.0),)),
        (((SMALL, 1.0),), ((LARGE, 1.0),)),
        (((SMALL, 1.0),), ((SMALL, 1.0), (SMALL, 2.0))),
        (((SMALL, 1.0),), ((SMALL, 1.0), (LARGE, 1.0))),
    ],
)
def test_the_need_grows_with_what_is_wanted(
    tmp_path: Path, less: tuple[tuple[Recipe, float], ...], more: tuple[tuple[Recipe, float], ...]
) -> None:
    """All that may be made of an original is made in one job, so its need is that of all together."""
    header = read_header(save_jpeg(tmp_path / "seal.jpg", 1200, 800))

    assert needed_mib(header, less) < needed_mib(header, more)


def test_the_survey_tells_the_need_of_all_that_is_wanted(tmp_path: Path) -> None:
    """What is admitted by it is what will be made."""
    original = save_jpeg(tmp_path / "seal.jpg", 1200, 800)
    wanted = (SMALL, 2.0), (LARGE, 1.0)

    surveyed = survey(survey_task(original, *wanted))

    assert isinstance(surveyed, Survey)
    assert surveyed.need_mib == needed_mib(read_header(original), wanted)


@pytest.mark.parametrize(("times", "fits"), [(1.0, True), (1.001, False)])
def test_a_file_that_is_mostly_empty_is_refused_by_its_header(tmp_path: Path, times: float, *, fits: bool) -> None:
    """64 times the bytes of its pixels and a gibibyte are taken; of more, nothing is read but the header."""
    original = save_jpeg(tmp_path / "seal.jpg", 60, 40)
    most = 2**30 + 64 * 60 * 40 * 3
    os.truncate(original, int(most * times))

    with pytest.MonkeyPatch.context() as patched:
        if not fits:
            patched.setattr("lanternslide.worker.original.Opened.digest", lambda _self: pytest.fail("it was read"))
        found = survey(survey_task(original))

    assert isinstance(found, Survey) is fits
    if not fits:
        assert isinstance(found, Refused)
        assert found.said.key == Held.IMPLAUSIBLE_SIZE.value
