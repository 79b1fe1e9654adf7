"""How good a delivery is: edge contrast, halos, tones, clipping.

The measures and their thresholds are those of the project's image-quality study (its section 3), in CIE L* against the
plain linear-light area average of the original at the same size (the *reference*). Planes are (height, width), float32.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import cv2
import numpy as np

from lanternslide.imaging.local import gaussian, local_max, local_min
from lanternslide.imaging.types import Array32, Bytes8

__all__ = ["Edges", "Halos", "Tile", "clipped", "crispness", "gradient", "halos", "tone_shift"]

Tile: TypeAlias = tuple[Array32, Array32]
"""A part of a picture and of the reference, of one shape. Large pictures are measured on tiles from all over them."""


EDGE_PERCENTILE, EDGE_FLOOR = 90.0, 4.0
"""A pixel belongs to an edge where the reference's gradient is above both."""

FEWEST_EDGES = 200
"""With fewer edge pixels the figure means nothing."""

TWO_SIDED = 0.8
"""The skewness of fine detail up to which it is a texture's (see `crispness`)."""

LINE_HEIGHT = 1.5
"""Where the reference has a line or spot higher than this, what stands out is no halo."""

HALO_PERCENTILE = 99.9
TONE_SIGMA = 8.0
TONE_BLOCK = 4


def gradient(L: Array32) -> Array32:
    """Return the gradient by the two diagonal differences of 2×2 pixels, shape (height - 1, width - 1).

    L. G. Roberts, "Machine perception of three-dimensional solids", MIT, 1963.
    """
    falling = L[1:, 1:] - L[:-1, :-1]
    rising = L[1:, :-1] - L[:-1, 1:]
    return np.asarray(cv2.magnitude(falling, rising)) if falling.size else falling


class Edges:
    """The edges of a reference, to compare pictures with.

    Parameters
    ----------
    reference
        Its tiles, in L*.
    """

    def __init__(self, reference: Sequence[Array32]) -> None:
        steep = _gradients(reference)
        self._where = steep > _edge_floor(steep)
        self._mean = float(steep[self._where].mean()) if np.count_nonzero(self._where) >= FEWEST_EDGES else None

    def contrast(self, found: Sequence[Array32]) -> float | None:
        """Return how steep the edges are in a picture's tiles against the reference (1: as steep), the acutance.

        It is the mean gradient on the reference's edges against the reference's own; None if it has too few to tell.
        """
        if self._mean is None:
            return None
        return float(_gradients(found)[self._where].mean()) / self._mean


def crispness(tiles: Sequence[Array32]) -> float | None:
    """Return how much of the detail near a picture's edges is its very finest; None where it does not tell.

    It is the band above a Gaussian of 0.7 pixels against that between 1.4 and 2.8 pixels, mean absolute values: from
    0.5 out of focus to 1.7 for foliage and shingle as cameras see them. Unsharp masks of 150 per cent and more at about
    a pixel lift it past 1.9. Stars, glints and print are as crisp without any; their finest detail is one-sided, with a
    skewness beyond 1, where that of textures stays within 0.8, sharpened or not. (This project's own measurement on 15
    photographs and four drawn pictures; no source.)
    """
    broad, absolute, squared, cubed, pixels, count = 0.0, 0.0, 0.0, 0.0, 0, 0
    floor = _edge_floor(_gradients(tiles))
    for L in tiles:
        edges = np.pad(gradient(L) > floor, ((0, 1), (0, 1))).astype(np.uint8)
        count += int(np.count_nonzero(edges))
        near = cv2.dilate(edges, np.ones((3, 3), np.uint8)) > 0
        fine = (L - gaussian(L, 0.7))[near].astype(np.float64)
        pixels += fine.size
        absolute += float(np.abs(fine).sum())
        squared += float((fine**2).sum())
        cubed += float((fine**3).sum())
        broad += float(np.abs(gaussian(L, 1.4) - gaussian(L, 2.8))[near].sum())
    if count < FEWEST_EDGES or not broad or not squared:
        return None
    skewness = cubed / pixels / (squared / pixels) ** 1.5
    return absolute / broad if abs(skewness) <= TWO_SIDED else None


def _edge_floor(steep: Array32) -> float:
    return max(float(np.percentile(steep, EDGE_PERCENTILE)), EDGE_FLOOR) if steep.size else EDGE_FLOOR


def _gradients(tiles: Sequence[Array32]) -> Array32:
    return np.concatenate([gradient(tile).ravel() for tile in tiles])


@dataclass(frozen=True, kw_only=True, slots=True)
class Halos:
    """How far a picture overshoots beside its edges, L*."""

    light: float
    dark: float


def halos(tiles: Sequence[Tile]) -> Halos:
    """Return the 99.9th percentile of what is lighter, and darker, than anything around it in the reference.

    Lines and spots of the reference are left out: that they stand out is no halo. So are the first and last two rows of
    each tile, whose neighbours lie elsewhere.
    """
    light, dark = [], []
    most = max(len(L) for L, _ in tiles)
    for L, reference in tiles:
        low, high = local_min(reference), local_max(reference)
        if len(L) <= 4 < most:
            continue
        inner = slice(2, -2) if most > 4 else slice(None)
        plain_light = (reference - local_max(low) < LINE_HEIGHT)[inner]
        plain_dark = (local_min(high) - reference < LINE_HEIGHT)[inner]
        light.append((L - high)[inner][plain_light])
        dark.append((low - L)[inner][plain_dark])
    return Halos(light=_overshoot(np.concatenate(light)), dark=_overshoot(np.concatenate(dark)))


def _overshoot(values: Array32) -> float:
    return float(np.percentile(np.maximum(values, 0), HALO_PERCENTILE)) if values.size else 0.0


def tone_shift(L: Array32, reference: Array32) -> tuple[float, float]:
    """Return how far broad tones have moved: the mean and the 99th percentile of the difference, L*.

    Both are blurred by 8 pixels first; on means of 4×4 pixels, which changes that blur by less than 1 per cent.
    """
    rows, columns = (size // TONE_BLOCK for size in L.shape)
    if rows == 0 or columns == 0:
        return (float(abs((L - reference).mean())),) * 2
    difference = (L - reference)[: rows * TONE_BLOCK, : columns * TONE_BLOCK]
    means = difference.reshape(rows, TONE_BLOCK, columns, TONE_BLOCK).mean(axis=(1, 3), dtype=np.float32)
    moved = np.abs(gaussian(means, TONE_SIGMA / TONE_BLOCK))
    return float(moved.mean()), float(np.percentile(moved, 99))


def clipped(codes: Bytes8) -> tuple[float, float]:
    """Return the shares of pixels that are pure black and pure white; *codes* (height, width, 3), uint8."""
    red, green, blue = (codes[..., channel] for channel in range(3))
    pixels = max(red.size, 1)
    black, white = np.count_nonzero((red | green | blue) == 0), np.count_nonzero((red & green & blue) == 255)
    return black / pixels, white / pixels
