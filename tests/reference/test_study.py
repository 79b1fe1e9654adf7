"""The rest of the image-quality study's targets (section 4), on generated pictures through the whole chain."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import pytest
import tifffile
from scipy.ndimage import gaussian_filter
from skimage.color import deltaE_ciede2000, rgb2lab
from skimage.io import imsave

from lanternslide.chain.plan import DEFAULT_AMOUNT
from lanternslide.imaging.colour.srgb import srgb_profile
from lanternslide.imaging.colour.transfer import luminance_of_lightness
from lanternslide.imaging.kernels import area_weights, cubic_weights
from lanternslide.imaging.resample import Resizer
from lanternslide.imaging.sharpen import Sharpener
from lanternslide.records import Sharpening
from tests.benchmarks.looks import encode, linear_srgb
from tests.support.chain import recipe, render_codes
from tests.support.study import FIELD, SOURCE, Plane

SCALE = SOURCE[0] / FIELD[0]
ANGLE = 0.3
DEMO = Path(__file__).resolve().parents[2] / "demo_inbox"


def grating(frequency: float, amplitude: float) -> Plane:
    """Return L* of a slanted grating inside a larger flat field (so that grain is not seen in it), source pixels."""
    y, x = np.mgrid[0 : 3 * SOURCE[0], 0 : 3 * SOURCE[1]].astype(np.float64)
    phase = 2 * np.pi * frequency / SCALE * (x * np.cos(ANGLE) + y * np.sin(ANGLE))
    L = 50 + amplitude * np.sin(phase)
    inside = np.zeros(L.shape, bool)
    inside[SOURCE[0] : 2 * SOURCE[0], SOURCE[1] : 2 * SOURCE[1]] = True
    return np.where(inside, L, 50.0)


def shrunk(L: Plane) -> Plane:
    """Return the sharpened lightness at final size, at the study's fixed amount."""
    light = luminance_of_lightness(L.astype(np.float32))
    source = gaussian_filter(light, 0.55, mode="nearest")
    resizer = Resizer(1, (source.shape[0], source.shape[1]), (3 * FIELD[0], 3 * FIELD[1]), cubic_weights, area_weights)
    resizer.take(np.ascontiguousarray(source[:, None]))
    cubic, area = resizer.result()
    sharpener = Sharpener(cubic[0], area[0])
    strips = [sharpener.lightness_of(strip, DEFAULT_AMOUNT) for strip in sharpener.strips()]
    return np.concatenate(strips).astype(np.float64)


@pytest.mark.parametrize(("frequency", "least"), [(0.15, 1.10), (0.25, 1.25), (0.35, 1.25), (0.45, 1.05)])
def test_faint_gratings_gain_contrast(frequency: float, least: float) -> None:
    """A grating of ±4 L* comes out stronger by what the target asks, at each frequency (cycles a final pixel)."""
    found = shrunk(grating(frequency, 4.0))
    inner = found[FIELD[0] + 8 : 2 * FIELD[0] - 8, FIELD[1] + 8 : 2 * FIELD[1] - 8]
    y, x = np.mgrid[FIELD[0] + 8 : 2 * FIELD[0] - 8, FIELD[1] + 8 : 2 * FIELD[1] - 8] + 0.5
    # The grating's own phase, read at the centres of final pixels; source pixels count from their corner.
    phase = 2 * np.pi * frequency * ((x - 0.5 / SCALE) * np.cos(ANGLE) + (y - 0.5 / SCALE) * np.sin(ANGLE))
    amplitude = 2 * np.abs(np.mean((inner - inner.mean()) * np.exp(-1j * phase)))

    assert amplitude / 4.0 >= least


def test_the_flat_field_around_stays_flat() -> None:
    """Nothing happens where there is nothing."""
    found = shrunk(grating(0.25, 4.0))

    np.testing.assert_allclose(found[: FIELD[0] - 8], 50, atol=0.01)


@pytest.mark.parametrize(
    ("left", "right", "most"),
    [((200, 30, 30), (30, 30, 200), 18), ((200, 40, 180), (40, 180, 60), 12)],
    ids=["red and blue", "magenta and green"],
)
def test_saturated_edges_keep_their_colours(
    tmp_path: Path, left: tuple[int, ...], right: tuple[int, ...], most: float
) -> None:
    """Where two strong colours meet, none appears that the area average does not have, but for lightness."""
    y, x = np.mgrid[0 : SOURCE[0], 0 : SOURCE[1]].astype(np.float64)
    across = (x - SOURCE[1] / 2) + 0.17 * (y - SOURCE[0] / 2) > 0
    picture = np.where(across[..., None], np.array(right), np.array(left)).astype(np.uint8)
    original = tmp_path / "edge.png"
    imsave(original, picture, check_contrast=False)

    found = render_codes(original, recipe(FIELD[1]))
    plain = average(picture)

    lab, expected = rgb2lab(found / 255), rgb2lab(plain)
    lab[..., 0] = expected[..., 0]
    assert deltaE_ciede2000(lab, expected)[8:-8, 8:-8].max() <= most


def average(picture: npt.NDArray[np.uint8]) -> Plane:
    """Return encoded sRGB (0 to 1) of the linear area average of *picture* at the field's size."""
    code = picture / 255
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    ratios = [np.zeros((target, source)) for target, source in zip(FIELD, SOURCE, strict=True)]
    for matrix in ratios:
        target, source = matrix.shape
        for row in range(target):
            low, high = row * source / target, (row + 1) * source / target
            for column in range(int(low), min(int(np.ceil(high)), source)):
                matrix[row, column] = (min(high, column + 1) - max(low, column)) / (high - low)
    small = np.einsum("ij,jkc,lk->ilc", ratios[0], linear, ratios[1], optimize=True)
    encoded: Plane = np.where(small <= 0.0031308, 12.92 * small, 1.055 * small ** (1 / 2.4) - 0.055)
    return encoded


@pytest.mark.parametrize("name", ["ida/kelp-ledges.jpg", "juno/journal/islands/harbour-rigging.jpg"])
def test_hues_stay(name: str) -> None:
    """On the demo's pictures hue moves by no more than the target: 1.3 at the 99th percentile, all else equal."""
    original = DEMO / name
    found = render_codes(original, recipe(1050))
    size = found.shape[1], found.shape[0]
    area = np.asarray(cv2.resize(linear_srgb(original), size, interpolation=cv2.INTER_AREA), np.float32)

    lab, plain = rgb2lab(found / 255), rgb2lab(np.clip(encode(area), 0, 255) / 255)
    chroma = np.hypot(plain[..., 1], plain[..., 2])
    own = np.maximum(np.hypot(lab[..., 1], lab[..., 2]), 1e-9)
    turned = np.stack([plain[..., 0], lab[..., 1] / own * chroma, lab[..., 2] / own * chroma], axis=-1)

    assert np.percentile(deltaE_ciede2000(turned, plain), 99) <= 1.3


def test_a_dusk_sky_of_sixteen_bits_has_no_steps(tmp_path: Path) -> None:
    """A smooth 16-bit gradient has every level on its way, once each, and no step of two."""
    height, width = 1200, 1800
    y = np.linspace(0, 1, height)[:, None, None] * np.ones((1, width, 1))
    sky = np.array([20.0, 32.0, 60.0]) + y * np.array([70.0, 60.0, 45.0])
    original = tmp_path / "dusk.tif"
    tifffile.imwrite(original, np.rint(sky * 257).astype(np.uint16), photometric="rgb", iccprofile=srgb_profile())

    found = render_codes(original, replace(recipe(900), sharpening=Sharpening())).astype(int)
    expected = 20.0 + np.array([70.0, 60.0, 45.0])[None] * np.linspace(0, 1, 600)[:, None]

    assert np.abs(np.diff(found, axis=0)).max() == 1
    assert (np.ptp(found, axis=1) <= 1).all()
    assert abs(found[:, 450, 0] - expected[:, 0]).max() <= 0.6
