"""Resampling weights and the streamed downsize against closed forms and a plain double-precision product."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import simpson
from skimage.transform import downscale_local_mean

from lanternslide.imaging.kernels import Weights, area_weights, cubic_weights, keys_cubic, triangle_weights
from lanternslide.imaging.resample import Resizer

SIZES = [(6000, 1050), (4001, 700), (4000, 701), (997, 331), (300, 299), (128, 128)]
KINDS = pytest.mark.parametrize("make", [cubic_weights, area_weights])


def matrix(weights: Weights, target: int) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return weights as a dense matrix (target, source)."""
    return weights.dense(0, target, 0, weights.source).astype(np.float64)


def test_keys_cubic_has_its_published_values() -> None:
    """R. G. Keys 1981, eq. 15 with a = -1/2: 1 at 0, 0 at whole distances, 9/16 at 1/2, -1/16 at 3/2."""
    x = np.array([0, 0.5, 1, 1.5, 2, 3, -0.5])

    assert keys_cubic(x).tolist() == [1, 9 / 16, 0, -1 / 16, 0, 0, 9 / 16]


@KINDS
@pytest.mark.parametrize(("source", "target"), SIZES)
def test_weights_sum_to_one_and_are_symmetric(make: type, source: int, target: int) -> None:
    """Constants stay what they are, and mirroring the picture mirrors the result."""
    weights = matrix(make(source, target), target)

    np.testing.assert_allclose(weights.sum(axis=1), 1, atol=1e-6)
    np.testing.assert_allclose(weights, weights[::-1, ::-1], atol=1e-6)


@KINDS
@pytest.mark.parametrize(("source", "target"), SIZES)
def test_ramps_keep_their_place(make: type, source: int, target: int) -> None:
    """A ramp stays a ramp, moved by less than 0.03 source pixels, away from the frame's edges."""
    ramp = matrix(make(source, target), target) @ np.arange(source)
    centres = (np.arange(target) + 0.5) * source / target - 0.5

    assert abs(ramp - centres)[4:-4].max() < 0.03


@KINDS
@pytest.mark.parametrize(("source", "target"), [(6000, 1050), (4001, 700), (997, 331)])
@pytest.mark.parametrize("place", [0.31, 0.5, 0.77])
def test_a_spot_keeps_its_place(make: type, source: int, target: int, place: float) -> None:
    """The centroid of a Gaussian spot is where it was within 0.01 final pixels."""
    x = np.arange(source)
    scale = source / target
    spot = np.exp(-((x - place * source) ** 2) / (2 * (1.5 * scale) ** 2))

    small = matrix(make(source, target), target) @ spot
    found = (small * np.arange(target)).sum() / small.sum()

    expected = ((spot * x).sum() / spot.sum() + 0.5) / scale - 0.5
    assert found == pytest.approx(expected, abs=0.01)


def test_the_area_average_is_the_block_mean() -> None:
    """At a whole ratio the area average is scikit-image's local mean."""
    picture = np.random.default_rng(1).random((60, 90)).astype(np.float32)
    resizer = Resizer(1, (60, 90), (20, 30), area_weights)
    resizer.take(picture[:, None])

    np.testing.assert_allclose(resizer.result()[0][0], downscale_local_mean(picture, (3, 3)), atol=1e-6)


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_streaming_equals_one_double_precision_product(data: st.DataObject) -> None:
    """Whatever sizes, ratios and bands: the streamed result is that of the whole matrices in float64."""
    height, width = data.draw(st.tuples(st.integers(1, 160), st.integers(1, 160)))
    target = data.draw(st.tuples(st.integers(1, height), st.integers(1, width)))
    rows = data.draw(st.integers(1, 64))
    channels = data.draw(st.sampled_from([1, 3]))
    picture = np.random.default_rng(data.draw(st.integers(0, 99))).random((channels, height, width))
    resizer = Resizer(channels, (height, width), target, cubic_weights, area_weights)

    for top in range(0, height, rows):
        resizer.take(np.ascontiguousarray(picture[:, top : top + rows].swapaxes(0, 1), np.float32))

    for make, found in zip((cubic_weights, area_weights), resizer.result(), strict=True):
        down, across = matrix(make(height, target[0]), target[0]), matrix(make(width, target[1]), target[1])
        np.testing.assert_allclose(found, down @ picture @ across.T, atol=1e-5)


def cubic_response(f: float) -> float:
    """Return the cubic's frequency response at *f* cycles a pixel.

    S. K. Park and R. A. Schowengerdt, "Image reconstruction by parametric cubic convolution", CVGIP 23, 1983, eq. 13
    (from memory; held to a numerical integral below), with a = -1/2.
    """
    a = -0.5
    sinc = np.sinc
    own = 3 * (sinc(f) ** 2 - sinc(2 * f)) / (np.pi * f) ** 2
    other = 2 * a * (3 * sinc(2 * f) ** 2 - 2 * sinc(2 * f) - sinc(4 * f)) / (np.pi * f) ** 2
    return float(own + other)


@pytest.mark.parametrize("f", [0.05, 0.15, 0.25, 0.35, 0.5, 0.75, 1.0])
def test_the_frequency_response_is_the_closed_forms(f: float) -> None:
    """A wave of *f* cycles a final pixel, downsized 16 times, comes out as strong as the closed form says.

    Above 0.5 it is what is left of a wave that the final size cannot hold. The area average's form is the sinc.
    """
    ratio, target = 16, 200
    source = ratio * target
    wave = np.exp(2j * np.pi * f / ratio * (np.arange(source) + 0.5))
    at = np.exp(2j * np.pi * f * (np.arange(target) + 0.5))

    for make, expected in ((cubic_weights, cubic_response(f)), (area_weights, float(np.sinc(f)))):
        found = (matrix(make(source, target), target) @ wave / at)[8:-8]
        np.testing.assert_allclose(found, expected, atol=0.004)


@pytest.mark.parametrize("f", [0.1, 0.4, 0.9])
def test_the_closed_form_is_the_kernels_transform(f: float) -> None:
    """The formula above is the Fourier integral of Keys' cubic, by Simpson's rule."""
    x = np.linspace(-2, 2, 4001)

    assert simpson(keys_cubic(x) * np.cos(2 * np.pi * f * x), x=x) == pytest.approx(cubic_response(f), abs=1e-6)


@pytest.mark.parametrize(("source", "target"), [(100, 250), (97, 331), (50, 51)])
def test_enlarging_keeps_ramps(source: int, target: int) -> None:
    """Enlarging by the cubic and by the triangle keeps constants, ramps and the place of things."""
    centres = (np.arange(target) + 0.5) * source / target - 0.5
    for make in (cubic_weights, triangle_weights):
        weights = matrix(make(source, target), target)
        inner = slice(2 * target // source + 4, -(2 * target // source + 4))
        np.testing.assert_allclose(weights.sum(axis=1), 1, atol=1e-6)
        np.testing.assert_allclose((weights @ np.arange(source))[inner], centres[inner], atol=1e-4)
