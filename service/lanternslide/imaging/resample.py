"""Resizing a stream of row bands by one or more kernels at a time.

The kernels are separable. Each band is resized down first, where a band is one large product with its part of the
banded matrix; rows that are finished are gathered and resized across, by products over blocks of the matrix. Order and
block shapes are fixed, so the same input gives the same bits.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from lanternslide.imaging.kernels import Weights
from lanternslide.imaging.reading.source import BAND_ROWS
from lanternslide.imaging.types import Array32

__all__ = ["GATHERED_ROWS", "Kernel", "Resizer", "resize"]

COLUMNS = 16
"""Target columns in one product: few enough that its block of the banded matrix is mostly weights, not zeros."""

GATHERED_ROWS = 32
"""Finished rows that are resized across together."""

Kernel: TypeAlias = Callable[[int, int], Weights]


class Resizer:
    """Takes linear bands of a picture and returns it at another size, once for each kernel.

    Parameters
    ----------
    channels
        1 or 3.
    source, target
        (height, width) in pixels.
    kernels
        What to resize by, such as `cubic_weights`.
    """

    def __init__(self, channels: int, source: tuple[int, int], target: tuple[int, int], *kernels: Kernel) -> None:
        self._height = source[0]
        self._downs = tuple(_Down(kernel(source[0], target[0])) for kernel in kernels)
        self._acrosses = tuple(_Across(kernel(source[1], target[1]), channels, target[0]) for kernel in kernels)
        self._sums = np.empty((0, channels, source[1]), np.float32)
        self._taken = 0

    def take(self, band: Array32) -> None:
        """Add the next *band* of rows.

        Parameters
        ----------
        band
            Linear light, shape (rows, channels, source width), float32, contiguous, rows from top to bottom.
        """
        start, self._taken = self._taken, self._taken + len(band)
        parts = [down.weights_for(start, self._taken) for down in self._downs]
        # One product for all kernels: twice as many rows in it cost less than two of them.
        weights = np.concatenate(parts)
        if len(self._sums) < len(weights):
            self._sums = np.empty((len(weights), *band.shape[1:]), np.float32)
        sums = self._sums[: len(weights)]
        np.matmul(weights, band.reshape(len(band), -1), out=sums.reshape(len(weights), -1))
        for down, across, part in zip(self._downs, self._acrosses, parts, strict=True):
            mine, sums = sums[: len(part)], sums[len(part) :]
            across.take(down.finished(mine, self._taken))

    def result(self) -> tuple[Array32, ...]:
        """Return the picture by each kernel, (channels, height, width) float32; once only.

        A cubic's can lie a little below 0 and above 1 (ringing).
        """
        if self._taken != self._height:
            raise ValueError(f"{self._taken} of {self._height} rows were taken")
        planes = tuple(across.planes for across in self._acrosses)
        # Only the caller holds them from here on.
        self._acrosses, self._sums = (), self._sums[:0].copy()
        return planes


def resize(planes: Array32, target: tuple[int, int], kernel: Kernel) -> Array32:
    """Return *planes* (channels, height, width) at another size (height, width)."""
    channels, height, width = planes.shape
    resizer = Resizer(channels, (height, width), target, kernel)
    for top in range(0, height, BAND_ROWS):
        resizer.take(np.ascontiguousarray(planes[:, top : top + BAND_ROWS].swapaxes(0, 1)))
    return resizer.result()[0]


class _Down:
    """One kernel's way down: which rows a band adds to, and which it finishes."""

    def __init__(self, weights: Weights) -> None:
        self._weights = weights
        self._open: Array32 | None = None  #: Rows that the next band still adds to.
        self._first = 0  #: The target row of the first of them.

    def weights_for(self, start: int, stop: int) -> Array32:
        """Return the weights of a band of source rows for the target rows that it adds to."""
        return self._weights.dense(self._first, self._weights.begun_by(stop), start, stop)

    def finished(self, sums: Array32, stop: int) -> Array32:
        """Add what earlier bands gave to the *sums* of the one that ends at *stop*, and return the finished rows."""
        if self._open is not None:
            sums[: len(self._open)] += self._open
        finished = self._weights.complete_by(stop) - self._first
        self._open = sums[finished:].copy()
        self._first += finished
        return sums[:finished]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Block:
    """A part of the matrix across that is worth a dense product."""

    targets: slice
    sources: slice
    weights: Array32  #: Shape (sources, targets).


def _blocks(weights: Weights) -> tuple[_Block, ...]:
    found = []
    for begin in range(0, len(weights.first), COLUMNS):
        end = min(begin + COLUMNS, len(weights.first))
        start, stop = weights.reaching_to(begin, end)
        dense = np.ascontiguousarray(weights.dense(begin, end, start, stop).T)
        found.append(_Block(targets=slice(begin, end), sources=slice(start, stop), weights=dense))
    return tuple(found)


class _Across:
    """One kernel's way across: gathers rows until there are enough for large products."""

    def __init__(self, weights: Weights, channels: int, height: int) -> None:
        self._blocks = _blocks(weights)
        self._rows = np.empty((GATHERED_ROWS, channels, weights.source), np.float32)
        self._count = 0
        self._resized = np.empty((GATHERED_ROWS * channels, len(weights.first)), np.float32)
        self.planes = np.empty((channels, height, len(weights.first)), np.float32)
        self._written = 0

    def take(self, rows: Array32) -> None:
        """Add finished *rows*, (rows, channels, source width)."""
        while len(rows):
            part = rows[: GATHERED_ROWS - self._count]
            rows = rows[len(part) :]
            self._rows[self._count : self._count + len(part)] = part
            self._count += len(part)
            if self._count in (GATHERED_ROWS, self.planes.shape[1] - self._written):
                self._write()

    def _write(self) -> None:
        """Resize what is gathered."""
        channels, _, width = self.planes.shape
        rows = self._rows[: self._count].reshape(self._count * channels, -1)
        resized = self._resized[: len(rows)]
        for block in self._blocks:
            np.matmul(rows[:, block.sources], block.weights, out=resized[:, block.targets])
        planes = resized.reshape(self._count, channels, width).swapaxes(0, 1)
        self.planes[:, self._written : self._written + self._count] = planes
        self._written += self._count
        self._count = 0
