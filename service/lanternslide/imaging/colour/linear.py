"""From encoded samples straight to linear light, by tables."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np

from lanternslide.imaging.reading.read import read_bands
from lanternslide.imaging.reading.source import Header
from lanternslide.imaging.types import Array32, Codes

__all__ = ["LinearBands", "Linearizer"]


class Linearizer:
    """Turns bands of encoded samples into planes of linear light, opacity flattened over white.

    Parameters
    ----------
    tables
        Linear light for every code, shape (channels, 2**bits), float32.
    alpha
        Whether a channel of opacity follows the others.
    """

    def __init__(self, tables: Array32, *, alpha: bool) -> None:
        self._tables = tables
        self._alpha = alpha
        self._buffer = np.empty((0, 0, 0), np.float32)
        self.transparent = False  #: Whether a pixel so far was not fully opaque.

    def __call__(self, codes: Codes) -> Array32:
        """Return (rows, channels, width) float32 of *codes* (rows, width, channels, opacity included).

        The result is overwritten by the next call: fresh memory for each band costs more than the tables.
        """
        channels = len(self._tables)
        rows, width = codes.shape[:2]
        if self._buffer.shape[0] < rows or self._buffer.shape[2] != width:
            self._buffer = np.empty((rows, channels, width), np.float32)
        linear = self._buffer[:rows]
        planes = cv2.split(codes)
        for channel, table in enumerate(self._tables):
            cv2.LUT(planes[channel], table, dst=linear[:, channel])
        if self._alpha:
            opacity = planes[channels].astype(np.float32) / np.float32(self._tables.shape[1] - 1)
            if opacity.min() < 1:
                self.transparent = True
                linear *= opacity[:, None]
                linear += 1 - opacity[:, None]
        return linear


class LinearBands:
    """Bands of an original as linear light in its own primaries.

    Parameters
    ----------
    header
        The original.
    tables
        Linear light for every code, shape (channels, 2**bits), float32.
    """

    def __init__(self, header: Header, tables: Array32) -> None:
        self._header = header
        self._linear = Linearizer(tables, alpha=header.alpha)
        self.channels = len(tables)
        self.remarks: list[str] = []  #: What the decoder remarked on so far.

    @property
    def transparent(self) -> bool:
        """Whether a pixel so far was not fully opaque."""
        return self._linear.transparent

    def __iter__(self) -> Iterator[Array32]:
        """Yield (rows, channels, width) float32, rows from top to bottom; each is overwritten by the next.

        Raises
        ------
        OriginalHeldError
            If the file is damaged or cut short.
        """
        return map(self._linear, read_bands(self._header, self.remarks))
