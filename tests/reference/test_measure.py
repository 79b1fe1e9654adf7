"""What is measured of a delivery, on planes whose true values are computed by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from skimage.color import rgb2lab

from lanternslide.imaging.colour.transfer import lightness_of_codes
from lanternslide.imaging.measuring.measure import Edges, Halos, clipped, gradient, halos, tone_shift
from tests.support.chain import deliver, recipe

DEMO = Path(__file__).resolve().parents[2] / "demo_inbox"


def edge(low: float = 40, high: float = 60) -> np.ndarray[tuple[int, int], np.dtype[np.float32]]:
    """Return an upright edge between two lightnesses, 200 rows high, with one step in between."""
    plane = np.full((200, 60), low, np.float32)
    plane[:, 30] = (low + high) / 2
    plane[:, 31:] = high
    return plane


def test_gradient_of_a_step() -> None:
    """On an upright step of 10 L* both diagonal differences are 10: the gradient is 10 times the root of 2."""
    found = gradient(edge())

    np.testing.assert_allclose(found[:, 29:31], 10 * np.sqrt(2), rtol=1e-6)
    assert found[:, :29].max() == found[:, 31:].max() == 0


def test_acutance_is_how_much_steeper_edges_are() -> None:
    """Edges with 1.35 times the contrast have an acutance of 1.35, the reference itself 1."""
    reference = edge()

    assert Edges([reference]).contrast([reference]) == pytest.approx(1, abs=1e-6)
    assert Edges([reference]).contrast([50 + 1.35 * (reference - 50)]) == pytest.approx(1.35, abs=1e-5)


def test_a_picture_without_edges_has_no_acutance() -> None:
    """With fewer than 200 edge pixels the figure means nothing."""
    flat = np.full((100, 100), 50, np.float32)

    assert Edges([flat]).contrast([flat]) is None
    assert Edges([flat[:1, :1]]).contrast([flat[:1, :1]]) is None


def test_halos_are_what_exceeds_the_surroundings() -> None:
    """3 L* too dark and 2 L* too light beside an edge are a dark halo of 3 and a light one of 2."""
    reference, found = edge(), edge()
    found[:, 28] -= 3
    found[:, 32] += 2

    assert halos([(found, reference)]) == Halos(dark=3, light=2)
    assert halos([(reference, reference)]) == Halos(dark=0, light=0)


def test_lines_that_stand_out_are_no_halo() -> None:
    """A dark line that is made darker is no halo; the same beside an edge is."""
    reference = np.full((200, 60), 60, np.float32)
    reference[:, 30] = 50
    darker = reference.copy()
    darker[:, 30] -= 5

    assert halos([(darker, reference)]).dark == 0


def test_tiles_measure_what_the_whole_does() -> None:
    """The figures of a picture cut into tiles are those of the whole, away from the cuts."""
    random = np.random.default_rng(1)
    reference = (50 + 300 * gaussian_filter(random.normal(size=(256, 300)), 3)).astype(np.float32)
    found = (50 + 1.3 * (reference - 50)).astype(np.float32)
    tiles = [(found[top : top + 64], reference[top : top + 64]) for top in range(0, 256, 64)]

    whole = Edges([reference]).contrast([found])
    assert Edges([tile[1] for tile in tiles]).contrast([tile[0] for tile in tiles]) == pytest.approx(whole, rel=0.01)
    assert halos(tiles).dark == pytest.approx(halos([(found, reference)]).dark, rel=0.1)


def test_broad_tones() -> None:
    """A picture lighter by 2 L* everywhere has moved by 2; fine detail that averages out has not moved."""
    reference = np.full((160, 200), 50, np.float32)
    grain = np.where(np.indices(reference.shape).sum(axis=0) % 2, 1, -1).astype(np.float32)

    assert tone_shift(reference + 2, reference) == pytest.approx((2, 2), abs=1e-4)
    assert tone_shift(reference + 10 * grain, reference) == pytest.approx((0, 0), abs=1e-4)


def test_broad_tones_agree_with_a_plain_blur() -> None:
    """The blur on means of 4×4 pixels gives what a Gaussian of 8 pixels at full size gives."""
    random = np.random.default_rng(1)
    reference = np.full((240, 320), 50, np.float32)
    found = (reference + 6 * gaussian_filter(random.normal(size=reference.shape), 5) / 0.056).astype(np.float32)

    moved = np.abs(gaussian_filter(found - reference, 8, mode="nearest"))

    assert tone_shift(found, reference)[0] == pytest.approx(moved.mean(), rel=0.03)
    assert tone_shift(found, reference)[1] == pytest.approx(np.percentile(moved, 99), rel=0.05)


def test_clipping_counts_pure_black_and_white() -> None:
    """Only pixels with every channel at the end count."""
    codes = np.full((10, 10, 3), 128, np.uint8)
    codes[0, :3] = 0
    codes[1, :2] = 255
    codes[2, 0] = (0, 0, 1)
    codes[3, 0] = (255, 255, 254)

    assert clipped(codes) == pytest.approx((0.03, 0.02))


def test_lightness_of_codes_agrees_with_scikit_image() -> None:
    """L* of sRGB codes is scikit-image's."""
    codes = np.random.default_rng(1).integers(0, 256, (50, 60, 3)).astype(np.uint8)

    np.testing.assert_allclose(lightness_of_codes(codes), rgb2lab(codes)[..., 0], atol=0.02)


@pytest.mark.parametrize(
    "name", ["ida/kelp-ledges.jpg", "juno/journal/islands/harbour-rigging.jpg", "ida/club/lighthouse-steps.jpg"]
)
@pytest.mark.parametrize("long_edge", [1050, 1600])
def test_automatic_strength_reaches_its_acutance(tmp_path: Path, name: str, long_edge: int) -> None:
    """Whatever the picture and size: acutance 1.35 within 0.05, halos within the study's targets, tones kept."""
    original = tmp_path / Path(name).name
    original.write_bytes((DEMO / name).read_bytes())

    _, made = deliver(original, recipe(long_edge))

    figures = made.figures
    assert figures.acutance == pytest.approx(1.35, abs=0.05)
    assert figures.halo.dark <= 3.2
    assert figures.halo.light <= 1.6
    assert figures.tone_shift.p99 <= 1.0
    assert figures.strength == 1
