"""Sharpening on pictures whose truth is known, held to the targets of the project's image-quality study.

The measures are the study's (section 3): 6000 / 1050 source pixels for a final one, the source blurred by 0.55 of its
pixels, read 8 final pixels from the border; the targets stand in its section 4.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from scipy.ndimage import gaussian_filter

from lanternslide.chain.plan import DEFAULT_AMOUNT
from lanternslide.imaging.colour.transfer import lightness, luminance_of_lightness
from lanternslide.imaging.kernels import area_weights, cubic_weights
from lanternslide.imaging.resample import Resizer
from lanternslide.imaging.sharpen import Sharpener
from tests.support.study import BORDER, FIELD, SOURCE, jaggedness, slanted

Plane = npt.NDArray[np.float32]

SOURCE_BLUR = 0.55


def sharpen_lightness(cubic_Y: Plane, area_Y: Plane, amount: float) -> Plane:
    """Return the sharpened lightness of a whole picture."""
    sharpener = Sharpener(cubic_Y.copy(), area_Y.copy())
    return np.concatenate([sharpener.lightness_of(strip, amount) for strip in sharpener.strips()])


def shrink(L: npt.NDArray[np.float64], amount: float = DEFAULT_AMOUNT, field: tuple[int, int] = FIELD) -> Plane:
    """Return the sharpened lightness of a source given in L*, shape *field*, without its border."""
    light = luminance_of_lightness(L.astype(np.float32))
    source = gaussian_filter(light.astype(np.float64), SOURCE_BLUR, mode="nearest").astype(np.float32)
    resizer = Resizer(1, source.shape, field, cubic_weights, area_weights)
    resizer.take(source[:, None])
    cubic, area = resizer.result()
    result = sharpen_lightness(cubic[0], area[0], amount)
    return result[BORDER:-BORDER, BORDER:-BORDER]


@pytest.mark.parametrize(("low", "high", "over", "under"), [(40, 60, 1.2, 2.0), (25, 75, 1.2, 2.2), (5, 95, 1.2, 2.2)])
def test_edges_have_hardly_a_halo(low: float, high: float, over: float, under: float) -> None:
    """Beside a plain edge nothing gets lighter or darker than the study's targets, in L*."""
    found = shrink(np.where(slanted() > 0, float(high), float(low)))

    assert found.max() - high <= over
    assert low - found.min() <= under


def test_edges_are_as_steep_as_they_should_be() -> None:
    """A 25/75 edge is crisper with sharpening than without, in every row."""
    edge = np.where(slanted() > 0, 75.0, 25.0)
    sharp, plain = (np.abs(np.diff(shrink(edge, amount), axis=1)).max(axis=1) for amount in (DEFAULT_AMOUNT, 0.0))

    assert (sharp >= plain).all()
    assert sharp.mean() > 1.1 * plain.mean()


def test_slanted_edges_have_no_steps() -> None:
    """Jaggedness of a 25/75 edge stays within the target: 0.75 per cent of its height."""
    found = shrink(np.where(slanted() > 0, 75.0, 25.0))

    assert jaggedness(found.astype(np.float64), 50) <= 0.75


@pytest.mark.parametrize(("sigma", "gain"), [(0.4, 1.0), (1.4, 1.0), (3.4, 1.2)])
@pytest.mark.parametrize("level", [25, 55, 80])
def test_grain_is_left_alone(sigma: float, gain: float, level: float) -> None:
    """A flat field with grain of 0.4 to 3.4 L* (in the area average) gets no grainier than the target."""
    random = np.random.default_rng(1)
    noise = gaussian_filter(random.normal(size=(1200, 1200)), 0.7)
    strength = sigma / area_average(level + noise).std()

    grainy = level + strength * noise
    before, after = area_average(grainy), shrink(grainy, field=(210, 210))

    assert before.std() == pytest.approx(sigma, rel=0.15)
    assert after.std() / before.std() <= gain


def area_average(L: npt.NDArray[np.float64]) -> Plane:
    """Return the lightness of the plain area average at final size, which the study measures grain against."""
    resizer = Resizer(1, L.shape, (210, 210), cubic_weights, area_weights)
    resizer.take(luminance_of_lightness(L.astype(np.float32))[:, None])
    return lightness(resizer.result()[1][0])[BORDER:-BORDER, BORDER:-BORDER]


@pytest.mark.parametrize(
    ("width", "line", "ground", "least"),
    [
        pytest.param(0.35, 80.0, 30.0, 26.0, id="bright 0.35"),
        pytest.param(0.35, 20.0, 80.0, 13.5, id="dark 0.35"),
        pytest.param(1.0, 80.0, 30.0, 48.0, id="bright 1"),
        pytest.param(1.0, 20.0, 80.0, 44.0, id="dark 1"),
    ],
)
def test_lines_keep_their_contrast(width: float, line: float, ground: float, least: float) -> None:
    """Thin slanted lines, 0.35 and 1 final pixel wide, stand out as much as the target asks, in L*."""
    scale = SOURCE[0] / FIELD[0]
    across = slanted() / np.hypot(1, 0.17)
    found = shrink(np.where(np.abs(across) < width * scale / 2, line, ground))
    contrast = np.abs(found - ground).max(axis=1).mean()

    assert contrast >= least


def test_a_zone_plate_keeps_its_light() -> None:
    """Frequencies that the final size cannot hold become the grey of half the light: mean 0.500 within 0.003."""
    size, target = 2400, 700
    y, x = np.mgrid[0:size, 0:size] - (size - 1) / 2
    light = (0.5 + 0.49 * np.cos(np.pi * (x**2 + y**2) / size)).astype(np.float32)
    resizer = Resizer(1, light.shape, (target, target), cubic_weights, area_weights)
    resizer.take(light[:, None])
    cubic, area = resizer.result()
    L = sharpen_lightness(cubic[0], area[0], DEFAULT_AMOUNT)

    radius = np.hypot(*(np.mgrid[0:target, 0:target] - (target - 1) / 2)) / (target / 2)
    stop = (radius > 1.15 * target / size) & (radius < 0.98)
    # Beyond the stop band's edge, as the study has it.
    assert luminance_of_lightness(L)[stop].mean() == pytest.approx(0.5, abs=0.003)
    aliasing = L[stop] - lightness(np.array([0.5], np.float32))
    assert np.sqrt(np.mean(aliasing**2)) <= 4.2


def test_strength_is_monotone() -> None:
    """More amount makes more contrast on a fine texture."""
    random = np.random.default_rng(2)
    texture = 50 + 8 * gaussian_filter(random.normal(size=SOURCE), 3.0) / 0.09
    found = [float(shrink(np.clip(texture, 0, 100), amount).std()) for amount in (0, 1, 2, 3)]

    assert found == sorted(found)
    assert found[3] > found[0]


def test_strips_show_no_seams(monkeypatch: pytest.MonkeyPatch) -> None:
    """A picture worked through in strips is the one worked through as a whole, to the last bit but rounding."""
    random = np.random.default_rng(3)
    picture = gaussian_filter(random.random((300, 200)), 1.0).astype(np.float32)
    grain = picture + random.normal(0, 0.003, picture.shape).astype(np.float32)

    in_strips = sharpen_lightness(grain, picture, DEFAULT_AMOUNT)
    monkeypatch.setattr("lanternslide.imaging.strips.STRIP_ROWS", 304)
    whole = sharpen_lightness(grain, picture, DEFAULT_AMOUNT)

    np.testing.assert_allclose(in_strips, whole, atol=2e-4)


@pytest.mark.parametrize("turned", [False, True])
def test_the_edges_of_the_frame_are_like_its_middle(turned: bool) -> None:  # noqa: FBT001
    """Lines that run off the frame look the same at the frame as inside it, whatever side they leave by."""
    x = np.arange(SOURCE[1])
    L = np.broadcast_to(np.where(x % 97 < 9, 25.0, 70.0), SOURCE).astype(np.float64)
    field = FIELD
    if turned:
        L, field = np.ascontiguousarray(L.T), (FIELD[1], FIELD[0])
    light = luminance_of_lightness(L.astype(np.float32))
    resizer = Resizer(1, (light.shape[0], light.shape[1]), field, cubic_weights, area_weights)
    resizer.take(np.ascontiguousarray(light[:, None]))
    cubic, area = resizer.result()

    found = sharpen_lightness(cubic[0], area[0], DEFAULT_AMOUNT)
    lines = found.T if turned else found

    np.testing.assert_allclose(lines, np.broadcast_to(lines[len(lines) // 2], lines.shape), atol=1e-3)
    assert np.ptp(lines[0]) > 40
