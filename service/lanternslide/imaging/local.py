"""Small neighbourhood filters on planes (height, width), float32; edges are replicated."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from lanternslide.imaging.types import Array32

__all__ = ["gaussian", "local_max", "local_min"]


def local_min(plane: Array32) -> Array32:
    """Return the minimum over 3×3 pixels around each pixel."""
    return _extreme(plane, np.minimum)


def local_max(plane: Array32) -> Array32:
    """Return the maximum over 3×3 pixels around each pixel."""
    return _extreme(plane, np.maximum)


def _extreme(plane: Array32, pick: np.ufunc) -> Array32:
    # A replicated edge never changes a minimum or maximum, so what lies outside is left out.
    rows = plane.copy()
    pick(rows[1:], plane[:-1], out=rows[1:])
    pick(rows[:-1], plane[1:], out=rows[:-1])
    best = rows.copy()
    pick(best[:, 1:], rows[:, :-1], out=best[:, 1:])
    pick(best[:, :-1], rows[:, 1:], out=best[:, :-1])
    return best


@lru_cache(maxsize=16)
def _taps(sigma: float) -> tuple[float, ...]:
    """Return the sampled Gaussian's taps, normalised, cut off at 4 sigma (at least 2 pixels)."""
    radius = max(2, int(np.ceil(4 * sigma)))
    x = np.arange(-radius, radius + 1)
    taps = np.exp(-(x**2) / (2 * sigma**2))
    return tuple(float(tap) for tap in taps / taps.sum())


def gaussian(plane: Array32, sigma: float) -> Array32:
    """Return *plane* blurred by a sampled Gaussian of *sigma* pixels."""
    taps = _taps(sigma)
    radius = len(taps) // 2
    height, width = plane.shape
    rows = np.pad(plane, ((radius, radius), (0, 0)), mode="edge")
    down = _weigh([rows[at : at + height] for at in range(len(taps))], taps)
    columns = np.pad(down, ((0, 0), (radius, radius)), mode="edge")
    return _weigh([columns[:, at : at + width] for at in range(len(taps))], taps)


def _weigh(shifted: list[Array32], taps: tuple[float, ...]) -> Array32:
    """Return the sum of symmetric *taps* times *shifted* planes."""
    radius = len(taps) // 2
    total = shifted[radius] * np.float32(taps[radius])
    pair = np.empty_like(total)
    for reach in range(1, radius + 1):
        np.add(shifted[radius - reach], shifted[radius + reach], out=pair)
        pair *= np.float32(taps[radius + reach])
        total += pair
    return total
