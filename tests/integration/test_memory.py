"""The memory estimate against real peaks: one delivery in a fresh process for each way that originals are stored."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from lanternslide.imaging.reading import read_jpeg
from tests.benchmarks.memory import KINDS, in_process
from tests.support.chain import recipe, render_codes
from tests.support.pictures import save_jpeg

MEGAPIXELS = 16

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows does not tell a process's peak like this")


@pytest.mark.parametrize(
    "kind", ["jpeg", "jpeg-progressive", "tiff16-lzw", "tiff8-planar-whole", "png8-interlaced", "webp"]
)
def test_the_estimate_is_a_little_too_high(tmp_path: Path, kind: str) -> None:
    """Not less than 5 per cent under what a delivery really took, and at most half as much again."""
    original = tmp_path / f"original.{KINDS[kind][0]}"
    assert in_process("--make", original, kind, MEGAPIXELS) == {"made": 1}

    found = in_process("--one", original, "--long-edge", 1050)

    assert found["mib"] <= found["estimate"] * 1.05
    assert found["estimate"] <= found["mib"] * 1.5


def test_a_large_jpeg_is_streamed_to_the_same_pixels(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A JPEG too large to be decoded whole gives the same bytes, read row by row."""
    original = save_jpeg(tmp_path / "x.jpg", 900, 600)
    whole = render_codes(original, recipe(300))
    monkeypatch.setattr(read_jpeg, "WHOLE_BYTES", 0)

    assert (render_codes(original, recipe(300)) == whole).all()
