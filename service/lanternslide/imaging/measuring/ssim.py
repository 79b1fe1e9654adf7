"""How much of a picture's structure is left: SSIM.

Source: Z. Wang, A. C. Bovik, H. R. Sheikh, E. P. Simoncelli, "Image quality assessment: from error visibility to
structural similarity", IEEE Transactions on Image Processing 13(4), 2004; equation numbers are that paper's.
"""

from __future__ import annotations

import cv2
import numpy as np

from lanternslide.imaging.strips import strips
from lanternslide.imaging.types import Array32, Bytes8

__all__ = ["luma", "ssim"]

LUMA = (0.299, 0.587, 0.114)
"""Luma of encoded values (ITU-R BT.601-7, 2.5.1), which is the Y of a JPEG (JFIF 1.02)."""

SIGMA, RADIUS = 1.5, 5
"""The window: a circular Gaussian of 1.5 pixels over 11×11 (the paper, section III.C)."""

MIDDLE = 128.0
C1, C2 = (0.01 * 255) ** 2, (0.03 * 255) ** 2
"""What keeps the ratios steady where there is next to nothing (the paper, section III.B and C)."""


def luma(codes: Bytes8) -> Array32:
    """Return the luma, 0 to 255, shape (height, width), of sRGB codes (height, width, 3)."""
    weighed = cv2.transform(codes.astype(np.float32), np.array([LUMA], np.float32))
    return np.asarray(weighed, np.float32)


def ssim(first: Bytes8, second: Bytes8) -> float | None:
    """Return the mean SSIM of the luma of two pictures of one size, (height, width, 3); 1: the same.

    At full resolution, over all places where the whole window fits, without Bessel's correction (the paper, (14) to
    (17)). None for a picture that is smaller than the window.
    """
    height, width = first.shape[:2]
    if min(height, width) <= 2 * RADIUS:
        return None
    total, count = 0.0, 0
    inner = slice(RADIUS, width - RADIUS)
    for strip in strips(height - 2 * RADIUS, 0):
        rows = slice(strip.core.start, strip.core.stop + 2 * RADIUS)
        found = _local(luma(first[rows]), luma(second[rows]))[RADIUS:-RADIUS, inner]
        total += float(found.sum(dtype=np.float64))
        count += found.size
    return total / count


def _local(x: Array32, y: Array32) -> Array32:
    """Return the local SSIM of two planes (13)."""
    # Differences from the middle keep the squares small: float32 has 24 bits.
    x = x - np.float32(MIDDLE)
    y = y - np.float32(MIDDLE)
    mean_x, mean_y = _weighed(x), _weighed(y)
    both = _weighed(x * x + y * y) - mean_x * mean_x - mean_y * mean_y
    together = _weighed(x * y) - mean_x * mean_y
    mean_x += np.float32(MIDDLE)
    mean_y += np.float32(MIDDLE)
    numerator = (2 * mean_x * mean_y + np.float32(C1)) * (2 * together + np.float32(C2))
    denominator = (mean_x * mean_x + mean_y * mean_y + np.float32(C1)) * (both + np.float32(C2))
    return np.asarray(numerator / denominator, np.float32)


def _weighed(plane: Array32) -> Array32:
    return np.asarray(cv2.sepFilter2D(plane, cv2.CV_32F, _TAPS, _TAPS, borderType=cv2.BORDER_REPLICATE))


def _taps() -> Array32:
    x = np.arange(-RADIUS, RADIUS + 1)
    taps = np.exp(-(x**2) / (2 * SIGMA**2))
    normalised: Array32 = (taps / taps.sum()).astype(np.float32)
    return normalised


_TAPS = _taps()
