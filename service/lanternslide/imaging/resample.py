"""Downsizing a stream of row bands, once by a cubic and once by the exact area average.

Both are separable. Each band is resized down first, where a band is one large product with its part of the banded
matrix; rows that are finished are gathered and resized across, by products over blocks of the matrix. Order and block
shapes are fixed, so the same input gives the same bits.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from lanternslide.imaging.kernels import Weights, area_weights, cubic_weights
from lanternslide.imaging.types import Array32

__all__ = ["Downsizer"]

COLUMNS = 16
"""Target columns in one product: few enough that its block of the banded matrix is mostly weights, not zeros."""

GATHERED_ROWS = 32
"""Finished rows that are resized across together."""

Kernel: TypeAlias = Callable[[int, int], Weights]


class Downsizer:
    """Takes linear bands of a picture and returns it at its final size, by two kernels.

    Parameters
    ----------
    channels
        1 or 3.
    source, target
        (height, width) in pixels; the target is nowhere larger than the source.
    """

    def __init__(self, channels: int, source: tuple[int, int], target: tuple[int, int]) -> None:
        if target[0] > source[0] or target[1] > source[1]:
            raise ValueError(f"cannot enlarge {source} to {target}")
        self._height = source[0]
        self._passes = tuple(_Pass(kernel, channels, source, target) for kernel in (cubic_weights, area_weights))
        self._taken = 0

    def take(self, band: Array32) -> None:
        """Add the next *band* of rows.

        Parameters
        ----------
        band
            Linear light, shape (rows, channels, source width), float32, contiguous, rows from top to bottom.
        """
        for each in self._passes:
            each.take(band, self._taken)
        self._taken += len(band)

    def result(self) -> tuple[Array32, Array32]:
        """Return the picture by the cubic and by the area average, each (channels, height, width) float32.

        The cubic's can lie a little below 0 and above 1 (ringing).
        """
        if self._taken != self._height:
            raise ValueError(f"{self._taken} of {self._height} rows were taken")
        cubic, area = (each.planes for each in self._passes)
        return cubic, area


class _Pass:
    """One kernel's way through a picture."""

    def __init__(self, kernel: Kernel, channels: int, source: tuple[int, int], target: tuple[int, int]) -> None:
        self._down = _Down(kernel(source[0], target[0]), channels, source[1])
        self._across = _Across(kernel(source[1], target[1]), channels, source[1])
        self.planes = np.empty((channels, *target), np.float32)
        self._written = 0

    def take(self, band: Array32, start: int) -> None:
        """Add a *band* of rows, of which the first is row *start*."""
        rows = self._down.take(band, start)
        for part in self._across.take(rows, last=start + len(band) == self._down.source):
            self.planes[:, self._written : self._written + len(part)] = part.swapaxes(0, 1)
            self._written += len(part)


class _Down:
    """Resizes bands down, and hands out the rows that no later band adds to."""

    def __init__(self, weights: Weights, channels: int, width: int) -> None:
        self.source = weights.source
        self._weights = weights
        self._sums = np.empty((0, channels, width), np.float32)
        self._open = self._sums  #: Rows that the next band still adds to.
        self._first = 0  #: The target row of the first of them.

    def take(self, band: Array32, start: int) -> Array32:
        """Return the target rows that are finished by a *band*; overwritten by the next call."""
        stop = start + len(band)
        end = self._weights.begun_by(stop)
        count = end - self._first
        if len(self._sums) < count:
            self._sums = np.empty((count, *band.shape[1:]), np.float32)
        sums = self._sums[:count]
        weights = self._weights.dense(self._first, end, start, stop)
        np.matmul(weights, band.reshape(len(band), -1), out=sums.reshape(count, -1))
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
    """Gathers rows until there are enough for large products, and resizes them across."""

    def __init__(self, weights: Weights, channels: int, width: int) -> None:
        self._blocks = _blocks(weights)
        self._rows = np.empty((GATHERED_ROWS, channels, width), np.float32)
        self._count = 0
        self._resized = np.empty((GATHERED_ROWS * channels, len(weights.first)), np.float32)

    def take(self, rows: Array32, *, last: bool) -> Iterator[Array32]:
        """Yield resized rows (rows, channels, target width), everything with the *last*; overwritten by the next."""
        while len(rows):
            part = rows[: GATHERED_ROWS - self._count]
            rows = rows[len(part) :]
            self._rows[self._count : self._count + len(part)] = part
            self._count += len(part)
            if self._count == GATHERED_ROWS or (last and not len(rows)):
                yield self._resize()

    def _resize(self) -> Array32:
        count, self._count = self._count, 0
        channels = self._rows.shape[1]
        rows = self._rows[:count].reshape(count * channels, -1)
        resized = self._resized[: count * channels]
        for block in self._blocks:
            np.matmul(rows[:, block.sources], block.weights, out=resized[:, block.targets])
        return resized.reshape(count, channels, -1)
