"""What a proof sheet shows of a picture: its place, its tones, what was out of gamut."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from lanternslide.imaging.measuring.closeup import Box, box_around, sharpest
from lanternslide.imaging.measuring.proof import as_jpeg, outside_map, thumbnail, tones


def test_the_sharpest_place_is_found() -> None:
    """Of two textures the steeper one is shown, wherever it lies; a box never leaves the picture."""
    random = np.random.default_rng(1)
    for top, left in ((0, 0), (140, 230), (60, 100)):
        L = np.full((200, 300), 50, np.float32)
        L[20:60, 200:260] += random.normal(0, 2, (40, 60)).astype(np.float32)
        L[top : top + 60, left : left + 70] += random.normal(0, 8, (60, 70)).astype(np.float32)

        box = sharpest(L, 60, 70)

        assert abs(box.top - top) <= 2
        assert abs(box.left - left) <= 2
        assert box.top + box.height <= 200
        assert box.left + box.width <= 300


def test_one_hard_line_does_not_outweigh_a_texture() -> None:
    """A black edge on white is steep, but there is nothing to see in it."""
    L = np.full((300, 300), 95, np.float32)
    L[:, 40:42] = 0
    L[200:, 200:] = 50 + np.random.default_rng(2).normal(0, 12, (100, 100)).astype(np.float32)

    box = sharpest(L, 90, 90)

    assert box.top >= 190
    assert box.left >= 190


@pytest.mark.parametrize("shape", [(1, 1), (1, 500), (500, 1), (2, 2), (240, 320), (100, 320), (240, 319), (241, 321)])
def test_any_picture_has_a_place(shape: tuple[int, int]) -> None:
    """Pictures smaller than the box are shown whole."""
    L = np.random.default_rng(3).uniform(0, 100, shape).astype(np.float32)

    box = sharpest(L, 240, 320)

    assert (box.height, box.width) == (min(240, shape[0]), min(320, shape[1]))
    assert L[box.rows, box.columns].shape == (box.height, box.width)


def test_a_named_place_lies_in_the_middle() -> None:
    """As far as the picture's edges allow."""
    assert box_around(450, 300, (240, 320), (600, 900)) == Box(top=180, left=290, height=240, width=320)
    assert box_around(0, 599, (240, 320), (600, 900)) == Box(top=360, left=0, height=240, width=320)
    assert box_around(10, 10, (240, 320), (100, 50)) == Box(top=0, left=0, height=100, width=50)


def test_tones_are_shares_of_lightness() -> None:
    """By hand: half black, a quarter white and a quarter grey of 53.6 L* (code 128) fill three of 64 parts."""
    codes = np.zeros((100, 100, 3), np.uint8)
    codes[50:75], codes[75:] = 255, 128

    found = tones(codes)

    assert {place: count for place, count in enumerate(found) if count} == {0: 5000, 63: 2500, int(53.6 * 0.64): 2500}


def test_the_map_shows_in_colour_what_was_outside() -> None:
    """A part that was out of gamut keeps its colours, all else is grey, and one pixel is enough to be seen."""
    codes = np.full((640, 960, 3), (30, 90, 160), np.uint8)
    outside = np.zeros((640, 960), np.bool_)
    outside[:64, :96] = True
    outside[500, 700] = True

    found = outside_map(thumbnail(codes), outside)

    assert found.shape == (213, 320, 3)
    coloured = (found == (30, 90, 160)).all(axis=2)
    assert coloured[:20, :30].all()
    assert coloured[500 * 213 // 640, 700 // 3]
    assert coloured.sum() < 900
    rest = found[~coloured].astype(int)
    assert 56 <= rest.min() <= rest.max() <= 158  # so that light and dark colours stand out beside it
    assert np.ptp(rest, axis=1).max() == 0


def test_small_pictures_keep_colour_at_full_resolution() -> None:
    """They are plain JPEGs without subsampling."""
    jpeg = as_jpeg(np.full((10, 20, 3), 99, np.uint8), 90)

    with Image.open(io.BytesIO(jpeg)) as image:
        assert image.size == (20, 10)
        assert {layer[1:3] for layer in image.layer} == {(1, 1)}  # type: ignore[attr-defined]
