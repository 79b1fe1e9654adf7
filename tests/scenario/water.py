"""Still water: what stands in it, mirrored and broken up by small waves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.scenario.arrays import Array, grid
from tests.scenario.noise import Octaves

__all__ = ["Mirror"]

REST = 0.85
"""Part of the light that a flat mirror of water gives back at these low angles."""


@dataclass(frozen=True, kw_only=True)
class Mirror:
    """The mirror image below one waterline. Arrays are (h - foot, w)."""

    foot: int
    #: Where each pixel below the waterline looks: row and column above it, not whole
    row: Array
    column: Array
    #: What is left of an image so far below its waterline
    fade: Array

    @classmethod
    def below(cls, size: tuple[int, int], water: float, seed: int, calm: float = 1.0) -> Mirror:
        """Return the mirror below row *water* of a picture of *size* (w, h); a larger *calm* is smoother."""
        width, height = size
        foot = round(water)
        x, y = grid(width, height - foot)
        u, v = (x - np.float32(width / 2)) / np.float32(height), y / np.float32(height)
        # Waves look longer and lower the farther they are, and the foot is the farthest.
        scale = np.float32(1) / (np.float32(0.35) + v * 4)
        waves = Octaves(longest=0.050, count=4, gain=0.50, seed=seed, stretch=3.5)
        sway = waves.at(u * scale, v * scale * 3, scale * np.float32(1.5 / height)) / np.float32(calm)
        aside = sway * (np.float32(0.002) + v * np.float32(0.045)) * np.float32(height)
        row = foot - 1 - y * np.float32(1.04) + sway * (np.float32(0.001) + v * np.float32(0.07)) * np.float32(height)
        return cls(
            foot=foot,
            row=np.clip(row, 0, foot - 1.001).astype(np.float32),
            column=np.clip(x + aside - np.float32(0.5), 0, width - 1.001).astype(np.float32),
            fade=(np.exp(-v * np.float32(5.0)) * np.float32(REST) + np.zeros_like(u)).astype(np.float32),
        )

    def of(self, above: Array) -> Array:
        """Return the mirror image (h - foot, w, …) of *above* (h, w, …), bilinear, not faded."""
        i, j = self.row.astype(np.intp), self.column.astype(np.intp)
        more = (1,) * (above.ndim - 2)
        down = (self.row - i).astype(np.float32).reshape(*i.shape, *more)
        aside = (self.column - j).astype(np.float32).reshape(*i.shape, *more)
        i_next, j_next = np.minimum(i + 1, self.foot - 1), np.minimum(j + 1, above.shape[1] - 1)
        upper = above[i, j] * (1 - aside) + above[i, j_next] * aside
        lower = above[i_next, j] * (1 - aside) + above[i_next, j_next] * aside
        return np.asarray(upper + (lower - upper) * down, np.float32)

    def fill(self, cover: Array) -> None:
        """Add the faded mirror image of a coverage (h, w) to it below the waterline, in place."""
        np.maximum(cover[self.foot :], self.of(cover) * self.fade, out=cover[self.foot :])
