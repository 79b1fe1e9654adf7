"""From a source's linear light to linear sRGB, in gamut.

Sources: IEC 61966-2-1:1999 (primaries, white and luminance weights); ICC.1:2022 annex F (matrix profiles).
"""

from __future__ import annotations

import numpy as np

from lanternslide.imaging.colour.chromaticity import D65_WHITE, SRGB_PRIMARIES, colorants
from lanternslide.imaging.colour.transfer import LUMINANCE
from lanternslide.imaging.types import Array32, Array64, Flags

__all__ = ["XYZ_TO_SRGB", "clip_gamut", "compress_gamut", "in_srgb", "luminance", "to_linear_srgb"]

XYZ_TO_SRGB: Array64 = np.linalg.inv(colorants(*SRGB_PRIMARIES, D65_WHITE)).astype(np.float64)
"""From XYZ under D50 to linear sRGB."""

GAMUT_TOLERANCE = 1e-4
"""How far outside 0..1 a channel may lie (rounding of the profile's numbers) before its pixel counts as out."""


def to_linear_srgb(source_to_xyz: Array64) -> Array64:
    """Return the 3×3 matrix from linear RGB to linear sRGB, given the one to XYZ under D50."""
    return np.asarray(XYZ_TO_SRGB @ source_to_xyz)


def luminance(planes: Array32, to_srgb: Array64) -> Array32:
    """Return luminance (height, width) of linear *planes* (channels, height, width); grey is its own."""
    if planes.shape[0] == 1:
        grey: Array32 = planes[0].copy()  # the caller may change it
        return grey
    weights = (np.array(LUMINANCE) @ to_srgb).astype(np.float32)
    Y: Array32 = weights[0] * planes[0]
    Y += weights[1] * planes[1]
    Y += weights[2] * planes[2]
    return Y


def in_srgb(planes: Array32, to_srgb: Array64) -> Array32:
    """Return linear sRGB (3, height, width), the caller's own, of linear *planes* (channels, height, width)."""
    if planes.shape[0] == 1:
        return np.repeat(planes, 3, axis=0)
    mixed: Array32 = to_srgb.astype(np.float32) @ planes.reshape(3, -1)
    return mixed.reshape(planes.shape)


def compress_gamut(rgb: Array32) -> tuple[Array32, Flags]:
    """Return linear sRGB inside 0..1, and which pixels were outside, (height, width).

    A colour outside is drawn towards the grey of its own luminance until it fits: its lightness and, nearly, its
    hue stay. Shapes (3, height, width), float32; *rgb* is changed in place.
    """
    outside, lowest, highest = _outside(rgb)
    if outside.any():
        rgb[:, outside] = _towards_grey(rgb[:, outside], lowest[outside], highest[outside])
    np.clip(rgb, 0, 1, out=rgb)
    return rgb, outside


def clip_gamut(rgb: Array32) -> tuple[Array32, Flags]:
    """Return linear sRGB with every channel cut off at 0 and 1, and which pixels were outside; in place."""
    outside = _outside(rgb)[0]
    np.clip(rgb, 0, 1, out=rgb)
    return rgb, outside


def _outside(rgb: Array32) -> tuple[Flags, Array32, Array32]:
    """Return where a channel lies outside 0..1, and the lowest and highest channel of each pixel."""
    lowest: Array32 = np.minimum(np.minimum(rgb[0], rgb[1]), rgb[2])
    highest: Array32 = np.maximum(np.maximum(rgb[0], rgb[1]), rgb[2])
    return (lowest < -GAMUT_TOLERANCE) | (highest > 1 + GAMUT_TOLERANCE), lowest, highest


def _towards_grey(rgb: Array32, lowest: Array32, highest: Array32) -> Array32:
    """Return colours (3, n) drawn towards the grey of their own luminance as far as every channel fits."""
    Y = np.clip(np.array(LUMINANCE, np.float32) @ rgb, 0, 1)
    below = np.where(lowest < 0, Y / np.maximum(Y - lowest, np.float32(1e-12)), 1)
    above = np.where(highest > 1, (1 - Y) / np.maximum(highest - Y, np.float32(1e-12)), 1)
    share = np.clip(np.minimum(below, above), 0, 1)
    moved: Array32 = (Y + share * (rgb - Y)).astype(np.float32)
    return moved
