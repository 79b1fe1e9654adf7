"""The whole rendering against the same chain in float64, written apart and slowly (tests/support/slow_chain.py)."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import tifffile
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter
from skimage.color import deltaE_ciede2000, rgb2lab

from lanternslide.imaging.colour.icc_read import read_profile
from lanternslide.imaging.colour.to_srgb import to_linear_srgb
from tests.support.chain import recipe, render_codes
from tests.support.icc_write import matrix_profile
from tests.support.slow_chain import Array, render_slowly

# ISO 22028-2 (with a plain gamma of 1.8); IEC 61966-2-1's primaries with a plain gamma of 2.2.
WIDE = ("ROMM", (0.7347, 0.2653), (0.1596, 0.8404), (0.0366, 0.0001), (0.3457, 0.3585), 1.8)
FEWEST_EDGES = 200
"""With fewer the chain takes a fixed amount (the design's section 5)."""

NARROW = ("plain", (0.64, 0.33), (0.30, 0.60), (0.15, 0.06), (0.3127, 0.3290), 2.2)


def scene(height: int, width: int, seed: int) -> Array:
    """Return encoded values, 0 to 1: smooth ground, an edge, thin lines, grain and saturated spots."""
    random = np.random.default_rng(seed)
    y, x = np.mgrid[0:height, 0:width] / max(height, width)
    ground = np.stack([gaussian_filter(random.random((height, width)), 6) for _ in range(3)])
    ground = (ground - ground.min()) / np.ptp(ground) * 0.7 + 0.1
    ground = np.where(x + 0.3 * y > 0.6, ground * 0.35, ground)
    ground = np.where((x * 40 + y * 7) % 5 < 0.3, 0.05, ground)
    spot = (x - 0.3) ** 2 + (y - 0.3) ** 2 < 0.01
    ground[0] = np.where(spot, 0.95, ground[0])
    ground[1] = np.where(spot, 0.08, ground[1])
    found: Array = np.clip(np.moveaxis(ground, 0, -1) + random.normal(0, 0.01, (height, width, 3)), 0, 1)
    return found


@settings(max_examples=25, deadline=None)
@example(height=42, width=40, ratio=3.0, bits=8, wide=False, seed=0)  # narrower than a block of the noise estimate
@given(
    height=st.integers(40, 260),
    width=st.integers(40, 260),
    ratio=st.floats(1.0, 6.0),
    bits=st.sampled_from([8, 16]),
    wide=st.booleans(),
    seed=st.integers(0, 1000),
)
def test_the_rendering_is_that_of_float64(
    height: int, width: int, ratio: float, bits: int, *, wide: bool, seed: int
) -> None:
    """Whatever the size, ratio, depth and space: CIEDE2000 mean 0.02 and 99th percentile 0.1 at most, but rounding."""
    profile = matrix_profile(*(WIDE if wide else NARROW))
    full = 2**bits - 1
    codes = np.rint(scene(height, width, seed) * full).astype(np.uint8 if bits == 8 else np.uint16)
    long_edge = max(int(max(height, width) / ratio), 16)
    if long_edge == max(height, width):
        long_edge -= 1
    with tempfile.TemporaryDirectory() as folder:
        original = Path(folder) / "scene.tif"
        tifffile.imwrite(original, codes, photometric="rgb", iccprofile=profile)
        found = render_codes(original, recipe(long_edge))
    # A tenth of all places are its steepest. With about 200 of them, a rounding decides whether they are enough.
    assume(abs((found.shape[0] - 1) * (found.shape[1] - 1) / 10 - FEWEST_EDGES) > 5)

    curves, matrix = (part := read_profile(profile)).curves, part.matrix
    assert curves is not None
    assert matrix is not None
    linear = np.stack([curves[0](codes[..., channel] / full) for channel in range(3)])
    slow = render_slowly(linear, to_linear_srgb(matrix), found.shape[:2])

    # Rounding to 8 bits comes after the chain: half a code is allowed before a difference counts.
    nearest = np.clip(slow, (found - 0.5) / 255, (found + 0.5) / 255)
    difference = deltaE_ciede2000(rgb2lab(np.clip(nearest, 0, 1)), rgb2lab(np.clip(slow, 0, 1)))
    assert difference.mean() <= 0.02
    assert np.percentile(difference, 99) <= 0.1


def test_a_wrong_step_would_be_seen() -> None:
    """The comparison can fail: with a curve of 2.1 in place of 2.2 the difference is far more than what is allowed."""
    encoded = np.moveaxis(scene(120, 160, 3), -1, 0)
    right, wrong = (render_slowly(encoded**gamma, np.eye(3), (30, 40)) for gamma in (2.2, 2.1))

    assert deltaE_ciede2000(rgb2lab(right), rgb2lab(wrong)).mean() > 0.5
