"""Resampling weights: exact, normalised, anti-aliased.

Sources: R. G. Keys, "Cubic convolution interpolation for digital image processing", IEEE Trans. ASSP 29(6),
1981 (the cubic with a = -0.5); stretching the kernel by the ratio for a downsize and the half-pixel centres are
common practice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lanternslide.imaging.types import Array32, Array64

__all__ = ["Weights", "area_weights", "cubic_weights", "keys_cubic", "triangle_weights"]

KEYS_A = -0.5
"""The value that reproduces quadratics (Keys 1981, eq. 15)."""

CUBIC_SUPPORT = 2.0


def keys_cubic(x: Array64) -> Array64:
    """Return Keys' cubic at *x* (any shape, in pixels); zero from 2 on."""
    a = KEYS_A
    x = np.abs(x)
    inner = ((a + 2) * x - (a + 3)) * x * x + 1
    outer = (((x - 5) * x + 8) * x - 4) * a
    return np.where(x < 1, inner, np.where(x < CUBIC_SUPPORT, outer, 0.0))


@dataclass(frozen=True, kw_only=True, slots=True)
class Weights:
    """A banded matrix: for each target pixel a run of source pixels and their weights.

    Runs may stick out of the frame; the weights there are 0, and each run sums to 1.
    """

    source: int  #: Source pixels.
    first: npt.NDArray[np.int64]  #: First source pixel of each run, shape (target,), never decreasing.
    taps: Array64  #: Shape (target, run).

    def begun_by(self, stop: int) -> int:
        """Return how many target pixels, from the first on, have runs that begin before source pixel *stop*."""
        return int(np.searchsorted(self.first, stop, side="left"))

    def complete_by(self, stop: int) -> int:
        """Return how many target pixels, from the first on, are made of source pixels before *stop* alone."""
        if stop >= self.source:
            return len(self.first)
        return int(np.searchsorted(self.first + self.taps.shape[1], stop, side="right"))

    def reaching_to(self, begin: int, end: int) -> tuple[int, int]:
        """Return the range of source pixels that target pixels *begin* to *end* are made of."""
        start, stop = int(self.first[begin]), int(self.first[end - 1]) + self.taps.shape[1]
        return max(start, 0), min(stop, self.source)

    def dense(self, begin: int, end: int, start: int, stop: int) -> Array32:
        """Return the weights of target pixels *begin* to *end* for source pixels *start* to *stop*, (rows, columns)."""
        columns = self.first[begin:end, None] + np.arange(self.taps.shape[1])
        inside = (columns >= start) & (columns < stop)
        part = np.zeros((end - begin, stop - start), np.float32)
        rows = np.broadcast_to(np.arange(end - begin)[:, None], columns.shape)
        part[rows[inside], columns[inside] - start] = self.taps[begin:end][inside]
        return part


def _weights(source: int, first: npt.NDArray[np.int64], taps: Array64) -> Weights:
    columns = first[:, None] + np.arange(taps.shape[1])
    taps = np.where((columns >= 0) & (columns < source), taps, 0.0)
    return Weights(source=source, first=first, taps=taps / taps.sum(axis=1, keepdims=True))


def cubic_weights(source: int, target: int) -> Weights:
    """Return the weights of a cubic resize of *source* to *target* pixels.

    Pixel centres lie at half-integers; beyond the frame the weights are cut off and normalised again.
    """
    return _kernel_weights(keys_cubic, CUBIC_SUPPORT, source, target)


def triangle_weights(source: int, target: int) -> Weights:
    """Return the weights of a linear interpolation of *source* to *target* pixels; for enlarging."""
    return _kernel_weights(lambda x: np.maximum(1 - np.abs(x), 0.0), 1.0, source, target)


def _kernel_weights(kernel: Callable[[Array64], Array64], support: float, source: int, target: int) -> Weights:
    scale = source / target
    stretch = max(scale, 1.0)
    centre = (np.arange(target) + 0.5) * scale - 0.5
    reach = support * stretch
    first = np.ceil(centre - reach).astype(np.int64)
    columns = first[:, None] + np.arange(int(2 * reach) + 2)
    return _weights(source, first, kernel((columns - centre[:, None]) / stretch))


def area_weights(source: int, target: int) -> Weights:
    """Return the weights of the exact area average of *source* to *target* pixels.

    Each target pixel covers source / target source pixels; those at its ends count by the share it covers.
    """
    scale = source / target
    start = np.arange(target)[:, None] * scale
    first = np.floor(start[:, 0]).astype(np.int64)
    columns = first[:, None] + np.arange(int(scale) + 2)
    overlap = np.minimum(start + scale, columns + 1) - np.maximum(start, columns)
    return _weights(source, first, np.clip(overlap, 0.0, None))
