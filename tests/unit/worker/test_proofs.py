"""The small pictures of a delivery for its proof sheet."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lanternslide.chain import Found, Rendering, decode, plan_deliveries
from lanternslide.chain.quality import Encoded
from lanternslide.imaging.colour.working_space import working_space
from lanternslide.imaging.measuring.closeup import Box
from lanternslide.imaging.reading.read import read_header
from lanternslide.imaging.types import Bytes8
from lanternslide.records import Shown
from lanternslide.worker.proofs import closeup_of, write_proofs
from tests.support.chain import Array8, recipe, task
from tests.support.pictures import save_jpeg

NAME = "0123456789abcdef"
FOUND = Found(chosen=Encoded(quality=90, jpeg=b"", size=9000, ssim=None), by="config", tried=((88, 8000), (90, 9000)))


@pytest.fixture(scope="module")
def rendering(tmp_path_factory: pytest.TempPathFactory) -> Rendering:
    """Return a rendering of 480 × 320 pixels, which is larger than what is shown at 1:1."""
    original = save_jpeg(tmp_path_factory.mktemp("drop") / "rigging.jpg", 960, 640)
    header = read_header(original)
    plans, _ = plan_deliveries([task(recipe(480), original)], header.width, header.height)
    ways, _ = decode(header, working_space(header), plans)
    return ways[0].finish(None, closeup_of)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return the folder of a day."""
    folder = tmp_path / "2026-11-26"
    folder.mkdir()
    return folder


def opened(data: bytes) -> Array8:
    """Return the pixels of a JPEG."""
    with Image.open(io.BytesIO(data)) as image:
        return np.asarray(image.convert("RGB"))


def write(folder: Path, rendering: Rendering, seen: Bytes8 | None = None) -> Shown | None:
    """Write the small pictures of a delivery that looks as it was rendered, if nothing else is said."""
    return write_proofs(folder, NAME, rendering, rendering.codes if seen is None else seen, FOUND)


def test_each_small_picture_shows_what_its_name_says(folder: Path, rendering: Rendering) -> None:
    """The whole, and one part twice: without sharpening, and as it was delivered."""
    seen = 255 - rendering.codes

    shown = write(folder, rendering, seen)

    assert shown is not None
    assert rendering.closeup is not None
    pictures = {path.name.removeprefix(NAME): opened(path.read_bytes()) for path in folder.iterdir()}
    assert set(pictures) == {"-small.jpg", "-plain.jpg", "-delivered.jpg"}
    left, top, width, height = shown.closeup
    part = seen[top : top + height, left : left + width]
    # Compressed once more at 97: a few codes at most, on average.
    assert np.abs(pictures["-delivered.jpg"].astype(int) - part).mean() < 2
    assert np.abs(pictures["-plain.jpg"].astype(int) - rendering.closeup.plain).mean() < 2
    assert pictures["-small.jpg"].shape[:2] == (shown.thumbnail[1], shown.thumbnail[0])
    assert np.abs(pictures["-small.jpg"].mean(axis=(0, 1)) - seen.mean(axis=(0, 1))).max() < 1


def test_what_the_page_needs_is_told(folder: Path, rendering: Rendering) -> None:
    """Names begin below the proof folder; sizes are those of the files; tones add up to the whole."""
    shown = write(folder, rendering)

    assert shown is not None
    assert shown.pictures == f"2026-11-26/{NAME}"
    assert max(shown.thumbnail) == 320
    assert shown.closeup[2:] == (390, 260)
    assert sum(shown.tones) == pytest.approx(10_000, abs=len(shown.tones) / 2)
    assert shown.tried == FOUND.tried


@pytest.mark.parametrize(("share", "has_map"), [(0.0, False), (0.0099, False), (0.01, True), (0.5, True)])
def test_a_map_is_shown_where_colours_are_doubted(
    folder: Path, rendering: Rendering, share: float, *, has_map: bool
) -> None:
    """From the share on that is a doubt; below it, a map would be an empty page."""
    outside = np.zeros_like(rendering.outside)
    outside[:32, :48] = True
    shown = write(folder, replace(rendering, out_of_gamut=share, outside=outside))

    assert shown is not None
    assert shown.has_map == has_map
    assert (folder / f"{NAME}-gamut.jpg").exists() == has_map
    if has_map:
        painted = opened((folder / f"{NAME}-gamut.jpg").read_bytes()).astype(int)
        small = opened((folder / f"{NAME}-small.jpg").read_bytes()).astype(int)
        strength = painted.max(axis=2) - painted.min(axis=2)
        # The marked tenth, at two thirds of its size, has its own colours, but for compression.
        assert np.abs(painted[:20, :30] - small[:20, :30]).mean() < 3
        assert strength[:20, :30].min() > 50
        assert strength[40:, 50:].max() < 10  # all else is grey


def test_a_folder_that_does_not_take_them_stops_nothing(tmp_path: Path, rendering: Rendering) -> None:
    """A picture that is not there is no reason to stop a delivery."""
    assert write(tmp_path / "gone", rendering) is None
    (tmp_path / "file").write_bytes(b"")
    assert write(tmp_path / "file", rendering) is None


def test_nothing_but_whole_pictures_is_left(folder: Path, rendering: Rendering) -> None:
    """A job may run twice: the second writes over what the first has left, under no other name."""
    write(folder, rendering)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    write(folder, rendering)

    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_what_is_shown_at_full_size_is_where_it_is_sharpest() -> None:
    """A phone's width of it; the whole of a picture that is smaller."""
    L = np.full((400, 600), 50.0, np.float32)
    L[300:320, 500:520:2] = 70.0
    box = closeup_of(L)

    assert (box.height, box.width) == (260, 390)
    assert box.top <= 300
    assert box.top + box.height >= 320
    assert box.left <= 500
    assert box.left + box.width >= 520
    assert closeup_of(L[:40, :60]) == Box(top=0, left=0, height=40, width=60)
