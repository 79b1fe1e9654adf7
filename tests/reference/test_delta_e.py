"""CIEDE2000 against the published pairs and colour-science; the record's figure against scikit-image."""

from __future__ import annotations

from pathlib import Path

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.color import deltaE_ciede2000, rgb2lab

from lanternslide.imaging.measuring.delta_e import ciede2000, code_difference, lab_of_codes
from tests.support.chain import decoded, deliver, recipe, render_codes
from tests.support.outside import DATA, needs_data
from tests.support.pictures import save_jpeg

LAB = st.tuples(st.floats(0, 100), st.floats(-128, 128), st.floats(-128, 128))

# Three of the 34 pairs of Sharma, Wu and Dalal (2005), table 1, as scikit-image's test data has them.
PAIRS = [
    ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
    ((50.0, 2.5, 0.0), (50.0, 0.0, -2.5), 4.3065),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
]


@pytest.mark.parametrize(("first", "second", "expected"), PAIRS)
def test_some_published_pairs(first: list[float], second: list[float], expected: float) -> None:
    """Within the four digits that the paper gives, both ways round."""
    assert ciede2000(np.array(first), np.array(second)) == pytest.approx(expected, abs=1e-4)
    assert ciede2000(np.array(second), np.array(first)) == pytest.approx(expected, abs=1e-4)


@needs_data("patches")
def test_all_published_pairs() -> None:
    """All 34 pairs of Sharma, Wu and Dalal (2005) within 1e-4."""
    lines = (DATA / "ciede2000_pairs.txt").read_text("utf-8").splitlines()
    numbers = np.array([[float(word) for word in line.split()] for line in lines if line[:1].isdigit()])
    # Columns: pair, 1, L1 a1 b1, ten that are computed from them, the difference, 2, L2 a2 b2, ...
    first, expected, second = numbers[:, 2:5], numbers[:, 15], numbers[:, 17:20]

    assert len(numbers) == 34
    np.testing.assert_allclose(ciede2000(first, second), expected, atol=1e-4)


@given(first=LAB, second=LAB)
def test_any_two_colours(first: tuple[float, ...], second: tuple[float, ...]) -> None:
    """Any two colours are as far apart as colour-science says."""
    expected = colour.delta_E(np.array(first), np.array(second), method="CIE 2000")

    assert ciede2000(np.array(first), np.array(second)) == pytest.approx(expected, abs=1e-6)


def test_lab_of_every_kind_of_code() -> None:
    """L*a*b* of codes is scikit-image's, whose white has four digits."""
    codes = np.random.default_rng(1).integers(0, 256, (40, 50, 3)).astype(np.uint8)

    np.testing.assert_allclose(lab_of_codes(codes), rgb2lab(codes / 255), atol=0.02)
    np.testing.assert_allclose(lab_of_codes(np.full((1, 3), 255, np.uint8)), [[100, 0, 0]], atol=1e-9)


@pytest.mark.parametrize("shape", [(1, 1), (1, 900), (317, 316), (800, 1200)])
def test_the_grid_is_bounded_and_sees_all_parts(shape: tuple[int, int]) -> None:
    """On at most 100,000 pixels from all over, the figures are near those of all pixels."""
    random = np.random.default_rng(2)
    codes = random.integers(20, 230, (*shape, 3)).astype(np.uint8)
    others = (codes + random.integers(-3, 4, codes.shape)).astype(np.uint8)

    every = deltaE_ciede2000(rgb2lab(codes / 255), rgb2lab(others / 255))
    mean, p99 = code_difference(codes, others)

    tolerance = 0.02 if codes.size > 10_000 else 1e-2
    assert mean == pytest.approx(every.mean(), rel=tolerance, abs=1e-3)
    assert p99 == pytest.approx(np.percentile(every, 99), rel=2 * tolerance, abs=1e-3)


def test_the_record_says_what_compression_cost(tmp_path: Path) -> None:
    """The figure on the record is that of the delivered bytes against the rendering, and grows as quality falls."""
    original = save_jpeg(tmp_path / "x.jpg", 900, 600)
    found = {}
    for quality in (95, 60):
        how = recipe(300, quality=quality)
        jpeg, made = deliver(original, how)
        found[quality] = made.figures.delta_e
        expected = deltaE_ciede2000(rgb2lab(render_codes(original, how) / 255), rgb2lab(decoded(jpeg) / 255))
        assert made.figures.delta_e.mean == pytest.approx(expected.mean(), abs=0.01)
        assert made.figures.delta_e.p99 == pytest.approx(np.percentile(expected, 99), rel=0.02)

    assert 0 < found[95].mean < found[60].mean
