"""What of a picture is shown at 1:1: the place where it is sharpest."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from lanternslide.imaging.measuring.measure import gradient
from lanternslide.imaging.types import Array32

__all__ = ["Box", "box_around", "sharpest"]

MOST_STEEP = np.float32(25.0)
"""Gradients count up to this, L*, so that one black line on white does not outweigh a whole texture (a choice)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Box:
    """A part of a picture, pixels."""

    top: int
    left: int
    height: int
    width: int

    @property
    def rows(self) -> slice:
        """Its rows."""
        return slice(self.top, self.top + self.height)

    @property
    def columns(self) -> slice:
        """Its columns."""
        return slice(self.left, self.left + self.width)


def sharpest(L: Array32, height: int, width: int) -> Box:
    """Return the box of at most *height* × *width* pixels in which lightness (0 to 100) is steepest on the whole."""
    height, width = min(height, L.shape[0]), min(width, L.shape[1])
    steep = np.minimum(gradient(L), MOST_STEEP)
    places = L.shape[0] - height + 1, L.shape[1] - width + 1
    if not steep.size or places == (1, 1):
        return Box(top=0, left=0, height=height, width=width)
    # The sum over each box by two running sums.
    sums = cv2.integral(steep, sdepth=cv2.CV_64F)
    rows, columns = max(height - 1, 1), max(width - 1, 1)
    over = sums[rows:, columns:] - sums[:-rows, columns:] - sums[rows:, :-columns] + sums[:-rows, :-columns]
    over = over[: places[0], : places[1]]
    top, left = np.unravel_index(np.argmax(over), over.shape)
    return Box(top=int(top), left=int(left), height=height, width=width)


def box_around(x: int, y: int, size: tuple[int, int], picture: tuple[int, int]) -> Box:
    """Return a box of *size* (height, width) around a pixel, moved and cut to lie inside the *picture*."""
    height, width = (min(mine, whole) for mine, whole in zip(size, picture, strict=True))
    top = min(max(y - height // 2, 0), picture[0] - height)
    left = min(max(x - width // 2, 0), picture[1] - width)
    return Box(top=top, left=left, height=height, width=width)
