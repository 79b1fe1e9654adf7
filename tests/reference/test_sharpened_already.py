"""Originals that were sharpened hard before they came are recognised, and sharpened less."""

from __future__ import annotations

import functools
import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter

from lanternslide.imaging.colour.srgb import srgb_profile
from lanternslide.imaging.measuring.measure import crispness
from lanternslide.records import Sharpening
from tests.support.chain import deliver, recipe
from tests.support.outside import DATA, needs_data

DEMO = Path(__file__).resolve().parents[2] / "demo_inbox"
ORIGINALS = ["ida/kelp-ledges.jpg", "juno/journal/islands/harbour-rigging.jpg"]


@functools.cache
def halved(name: str) -> npt.NDArray[np.uint8]:
    """Return an original of the demo inbox at half its size, by plain averages: shape (H, W, 3)."""
    with Image.open(DEMO / name) as image:
        return np.asarray(image.convert("RGB").reduce(2))


@functools.cache
def hard(name: str, amount: float = 3.0, final: int = 1050) -> bytes:
    """Return an original sharpened in every channel, by *amount*, at 0.6 pixels of the final size, as a JPEG."""
    codes = halved(name).astype(np.float32)
    sigma = 0.6 * max(codes.shape) / final
    codes += amount * (codes - gaussian_filter(codes, (sigma, sigma, 0), truncate=3.0))
    return encoded(np.rint(np.clip(codes, 0, 255)).astype(np.uint8))


def encoded(codes: npt.NDArray[np.uint8]) -> bytes:
    """Return a picture as a JPEG with the sRGB profile."""
    stream = io.BytesIO()
    Image.fromarray(codes).save(stream, "JPEG", quality=95, subsampling=0, icc_profile=srgb_profile())
    return stream.getvalue()


@pytest.mark.parametrize("name", ORIGINALS)
def test_hard_sharpening_is_recognised(tmp_path: Path, name: str) -> None:
    """An original sharpened by 300 per cent is doubted and made less steep than it would be; as it came, it is not."""
    (tmp_path / "hard.jpg").write_bytes(hard(name))
    (tmp_path / "plain.jpg").write_bytes(encoded(halved(name)))

    _, strong = deliver(tmp_path / "hard.jpg", recipe(1050))
    _, plain = deliver(tmp_path / "plain.jpg", recipe(1050))

    assert "sharpened-already" in [doubt.key for doubt in strong.findings]
    assert "sharpened-already" not in [doubt.key for doubt in plain.findings]
    assert strong.figures.acutance is not None
    assert strong.figures.acutance < 1.3


@pytest.mark.slow
@needs_data("photos")
@pytest.mark.parametrize("long_edge", [1050, 2048])
def test_cameras_pictures_are_not_doubted(tmp_path: Path, long_edge: int) -> None:
    """Photographs as cameras made them, sharpened by the camera as they are, are not taken for sharpened hard."""
    for path in sorted((DATA / "photos").glob("*.jpg")):
        original = tmp_path / path.name
        original.write_bytes(path.read_bytes())
        assert "sharpened-already" not in [doubt.key for doubt in deliver(original, recipe(long_edge))[1].findings], (
            path
        )


def test_more_sharpening_is_crisper() -> None:
    """The measure rises with every step of sharpening, and a flat picture has none."""
    random = np.random.default_rng(1)
    L = np.clip(50 + 200 * gaussian_filter(random.normal(size=(300, 400)), 2.5), 0, 100)
    found = [
        crispness([np.asarray(L + amount * (L - gaussian_filter(L, 0.6)), np.float32)]) or 0 for amount in (0, 1, 2, 3)
    ]

    assert found == sorted(found)
    assert found[0] < found[-1]
    assert crispness([np.full((64, 64), 50, np.float32)]) is None


@functools.cache
def points(sigma: float) -> npt.NDArray[np.uint8]:
    """Return a night sky: stars of all magnitudes on a dark ground with grain."""
    random = np.random.default_rng(1)
    sky = np.zeros((2000, 3000))
    sky[random.integers(0, 2000, 6000), random.integers(0, 3000, 6000)] = random.exponential(400, 6000)
    sky = gaussian_filter(sky, sigma) * sigma**2 * 6 + 12 + random.normal(0, 3, sky.shape)
    return np.repeat(np.clip(sky, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


@pytest.mark.parametrize("long_edge", [400, 700, 1050])
def test_stars_are_no_sharpening(tmp_path: Path, long_edge: int) -> None:
    """Points of light are crisp by nature: their finest detail is one-sided, and they get the full strength."""
    original = tmp_path / "night.tif"
    Image.fromarray(points(1.3)).save(original, icc_profile=srgb_profile())

    doubts = deliver(original, recipe(long_edge))[1].findings

    assert [doubt.key for doubt in doubts if doubt.key == "sharpened-already"] == []


@pytest.mark.parametrize("steps", [2, 3])
def test_ladders_treat_it_gently_too(tmp_path: Path, steps: int) -> None:
    """The larger sizes are left alone: broad tones stay where they are."""
    original = tmp_path / "hard.jpg"
    original.write_bytes(hard(ORIGINALS[0]))
    how = recipe(1050)

    moved = [
        deliver(original, replace(how, sharpening=Sharpening(steps=count)))[1].figures.tone_shift.p99
        for count in (1, steps)
    ]

    assert moved[1] <= 2 * moved[0], moved
