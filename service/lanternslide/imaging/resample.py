"""Downsizing a stream of row bands, once by a cubic and once by the exact area average.

Both are separable. Each band is resized across by dense products over blocks of a banded matrix, and added
into the final rows that it reaches. Order and block shapes are fixed, so the same input gives the same bits.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lanternslide.imaging.kernels import Weights, area_weights, cubic_weights
from lanternslide.imaging.types import Array32

__all__ = ["Downsizer"]

COLUMNS = 16
"""Target columns in one product: few enough that its block of the banded matrix is mostly weights, not zeros."""


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
        self._height, self._width = source[0], target[1]
        kinds = (cubic_weights, area_weights)
        self._down = tuple(make(source[0], target[0]) for make in kinds)
        self._across = tuple(_blocks(make(source[1], target[1])) for make in kinds)
        self._planes = tuple(np.zeros((channels, *target), np.float32) for _ in kinds)
        self._buffer = np.empty((channels, 0, target[1]), np.float32)
        self._taken = 0

    def take(self, band: Array32) -> None:
        """Add the next *band* of rows.

        Parameters
        ----------
        band
            Linear light, shape (channels, rows, source width), float32, rows from top to bottom.
        """
        start, stop = self._taken, self._taken + band.shape[1]
        if self._buffer.shape[1] < band.shape[1]:
            self._buffer = np.empty((*band.shape[:2], self._width), np.float32)
        across = self._buffer[:, : band.shape[1]]
        for down, blocks, plane in zip(self._down, self._across, self._planes, strict=True):
            for block in blocks:
                np.matmul(band[:, :, block.sources], block.weights, out=across[:, :, block.targets])
            begin, end = down.reached_from(start, stop)
            plane[:, begin:end] += down.dense(begin, end, start, stop) @ across
        self._taken = stop

    def result(self) -> tuple[Array32, Array32]:
        """Return the picture by the cubic and by the area average, each (channels, height, width) float32.

        The cubic's can lie a little below 0 and above 1 (ringing).
        """
        if self._taken != self._height:
            raise ValueError(f"{self._taken} of {self._height} rows were taken")
        cubic, area = self._planes
        return cubic, area
