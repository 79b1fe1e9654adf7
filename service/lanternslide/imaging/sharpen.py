"""Sharpening lightness with separate limits for light and dark halos, grain left alone.

The method and its constants come from the project's image-quality study (single step, "v3"); numbers in L* unless
said otherwise. Everything works on planes (height, width), float32.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lanternslide.imaging.local import gaussian, local_max, local_min
from lanternslide.imaging.transfer import lightness
from lanternslide.imaging.types import Array32

__all__ = ["DEFAULT_AMOUNT", "LocalRange", "limit", "sharpen_lightness"]

DEFAULT_AMOUNT = 2.0
"""Gain on the detail that gives the default look (study, section 1, step 9: the fixed value)."""

DETAIL_SIGMA = 0.5
RINGING_TOLERANCE = 1.0
DARK_HALO, DARK_LINE_SHARE = 2.0, 0.8
LIGHT_HALO, LIGHT_LINE_SHARE = 1.0, 0.3
GATE_FLOOR, GATE_FULL = (0.3, 1.2), (1.2, 3.0)
"""Activity at which detail begins to count and counts in full: a minimum, and a multiple of the noise."""
NOISE_BLOCK, NOISE_CAP = 16, 1.5


@dataclass(frozen=True, kw_only=True, slots=True)
class LocalRange:
    """What lightness the surroundings of each pixel allow, taken from the area average."""

    low: Array32  #: Minimum over 3×3.
    high: Array32  #: Maximum over 3×3.
    dark_line: Array32  #: Depth of a dark line or spot at this pixel (about 0 beside a plain edge).
    light_line: Array32  #: Height of a bright line or spot.

    @classmethod
    def of(cls, area_lightness: Array32) -> LocalRange:
        """Return the range around each pixel of the area average's lightness."""
        low, high = local_min(area_lightness), local_max(area_lightness)
        return cls(
            low=low,
            high=high,
            dark_line=local_min(high) - area_lightness,
            light_line=area_lightness - local_max(low),
        )


def _soft(excess: Array32, tolerance: Array32 | np.float32) -> Array32:
    """Return *excess* bent over: slope 1 at 0, never more than *tolerance*."""
    tolerance = np.maximum(tolerance, np.float32(1e-6))
    bent: Array32 = tolerance * -np.expm1(-np.maximum(excess, np.float32(0)) / tolerance)
    return bent


def limit(L: Array32, around: LocalRange, dark: Array32 | np.float32, light: Array32 | np.float32) -> Array32:
    """Return *L* held to the range around each pixel, with *dark* and *light* L* of tolerance beyond it."""
    kept = np.clip(L, around.low, around.high)
    result: Array32 = kept + _soft(L - around.high, light) - _soft(around.low - L, dark)
    return result


def noise_of(L: Array32) -> float:
    """Return the grain's standard deviation: the 10th percentile over blocks of 16×16 pixels, at most 1.5.

    The operator [1 -2 1; -2 4 -2; 1 -2 1] / 6 is blind to ramps and edges along the axes (J. Immerkær, "Fast
    noise variance estimation", CVIU 64(2), 1996); blocks nearly black or white do not count.
    """
    rows, columns = (size // NOISE_BLOCK for size in L.shape)
    if rows == 0 or columns == 0:
        return 0.0
    padded = np.pad(L, 1, mode="edge")
    down = padded[:-2] - 2 * padded[1:-1] + padded[2:]
    residue = (down[:, :-2] - 2 * down[:, 1:-1] + down[:, 2:]) / 6

    def blocks(plane: Array32) -> Array32:
        cut = plane[: rows * NOISE_BLOCK, : columns * NOISE_BLOCK]
        return cut.reshape(rows, NOISE_BLOCK, columns, NOISE_BLOCK).swapaxes(1, 2).reshape(rows * columns, -1)

    means = blocks(L).mean(axis=1)
    spread = blocks(residue).std(axis=1)[(means > 4) & (means < 97)]
    return min(float(np.percentile(spread, 10)), NOISE_CAP) if spread.size else 0.0


def _gate(S: Array32) -> Array32:
    """Return how much of the detail counts, 0 to 1: none where there is only grain."""
    high = S - gaussian(S, 1.0)
    activity = np.sqrt(gaussian(high * high, 2.0))
    noise = noise_of(S)
    start = max(GATE_FLOOR[0], GATE_FLOOR[1] * noise)
    full = max(GATE_FULL[0], GATE_FULL[1] * noise)
    t = np.clip((activity - np.float32(start)) / np.float32(full - start), 0, 1)
    gate: Array32 = t * t * (3 - 2 * t)
    return gate


def sharpen_lightness(cubic_Y: Array32, area_Y: Array32, amount: float) -> Array32:
    """Return the sharpened lightness of a downsized picture.

    Parameters
    ----------
    cubic_Y, area_Y
        Luminance (0 to 1) of the picture downsized by the cubic and by the area average.
    amount
        Gain on the detail, 0 or more; 0 only takes the resize's ringing away.

    Returns
    -------
    Array32
        L*, 0 to 100, shape as given.
    """
    around = LocalRange.of(lightness(area_Y))
    tolerance = np.float32(RINGING_TOLERANCE)
    S = limit(lightness(cubic_Y), around, tolerance, tolerance)
    if amount == 0:
        return S
    detail = (S - gaussian(S, DETAIL_SIGMA)) * _gate(S)
    # A resize in linear light weakens dark lines more than light ones; this gives some of it back.
    lines = around.dark_line - around.light_line
    darker = np.clip(lines / (around.dark_line + around.light_line + 1), 0, 1)
    detail = np.where(detail < 0, detail * (1 + np.float32(0.5) * darker), detail)
    return limit(
        S + np.float32(amount) * detail,
        around,
        np.float32(DARK_HALO) + np.float32(DARK_LINE_SHARE) * around.dark_line,
        np.float32(LIGHT_HALO) + np.float32(LIGHT_LINE_SHARE) * around.light_line,
    )
