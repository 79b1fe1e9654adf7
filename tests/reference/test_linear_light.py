"""Resizing happens in linear light: light is averaged, not code."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.support.chain import recipe, render_codes

HALF_THE_LIGHT = 188
"""The sRGB code of linear 0.5: 255 * (1.055 * 0.5 ** (1 / 2.4) - 0.055) = 187.5 (IEC 61966-2-1:1999, 5.2)."""


@pytest.mark.parametrize("sharpen", [False, True])
@pytest.mark.parametrize("long_edge", [100, 150, 171])
def test_a_fine_checkerboard_shrinks_to_half_the_light(tmp_path: Path, long_edge: int, sharpen: bool) -> None:  # noqa: FBT001
    """Black and white pixels in equal parts become the grey of half the light, not of half the code (128)."""
    y, x = np.mgrid[0:600, 0:600]
    original = tmp_path / "checkerboard.png"
    Image.fromarray((((x + y) % 2) * 255).astype(np.uint8)).save(original)

    codes = render_codes(original, recipe(long_edge, sharpen=sharpen))[4:-4, 4:-4].astype(int)

    assert abs(codes - HALF_THE_LIGHT).max() <= 2
    assert codes.mean() == pytest.approx(HALF_THE_LIGHT, abs=0.6)


def test_thin_lines_keep_their_light(tmp_path: Path) -> None:
    """The mean of linear light survives a strong downsize of thin white lines on black."""
    picture = np.zeros((800, 800), np.uint8)
    picture[:, ::10] = 255
    original = tmp_path / "lines.png"
    Image.fromarray(picture).save(original)

    codes = render_codes(original, recipe(130, sharpen=False)).astype(float) / 255
    linear = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)

    # A tenth of the pixels is white.
    assert linear[4:-4, 4:-4].mean() == pytest.approx(0.1, rel=0.02)
