"""Small neighbourhood filters on planes (height, width), float32; edges are replicated."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np

from lanternslide.imaging.types import Array32

__all__ = ["gaussian", "local_max", "local_min"]

SQUARE = np.ones((3, 3), np.uint8)


def local_min(plane: Array32) -> Array32:
    """Return the minimum over 3×3 pixels around each pixel."""
    # A replicated edge never changes a minimum or maximum, so what lies outside may be left out.
    return np.asarray(cv2.erode(plane, SQUARE))


def local_max(plane: Array32) -> Array32:
    """Return the maximum over 3×3 pixels around each pixel."""
    return np.asarray(cv2.dilate(plane, SQUARE))


@lru_cache(maxsize=16)
def _taps(sigma: float) -> Array32:
    """Return the sampled Gaussian's taps, normalised, cut off at 4 sigma (at least 2 pixels)."""
    radius = max(2, int(np.ceil(4 * sigma)))
    x = np.arange(-radius, radius + 1)
    taps = np.exp(-(x**2) / (2 * sigma**2))
    normalised: Array32 = (taps / taps.sum()).astype(np.float32)
    return normalised


def gaussian(plane: Array32, sigma: float) -> Array32:
    """Return *plane* blurred by a sampled Gaussian of *sigma* pixels."""
    taps = _taps(sigma)
    return np.asarray(cv2.sepFilter2D(plane, cv2.CV_32F, taps, taps, borderType=cv2.BORDER_REPLICATE))
