"""Chromaticities, and the matrices that they make: of primaries, and from one white to another."""

from __future__ import annotations

import numpy as np

from lanternslide.imaging.types import Array64

__all__ = ["D50_XYZ", "D65_WHITE", "SRGB_PRIMARIES", "Chromaticity", "adapt_to_d50", "colorants"]

D50_XYZ = (0.9642, 1.0, 0.8249)
"""The white of the profile connection space (ICC.1:2022, 7.2.16)."""

BRADFORD: Array64 = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
"""The linear Bradford cone response (ICC.1:2022, annex E.3)."""

SRGB_PRIMARIES = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
"""The primaries of IEC 61966-2-1:1999, as xy."""

D65_WHITE = (0.3127, 0.3290)
"""The white of IEC 61966-2-1:1999, as xy."""

Chromaticity = tuple[float, float]


def _xyz(xy: Chromaticity) -> Array64:
    """Return X, Y, Z at Y = 1 of a chromaticity."""
    x, y = xy
    return np.array([x / y, 1.0, (1.0 - x - y) / y])


def adapt_to_d50(white: Chromaticity) -> Array64:
    """Return the 3×3 matrix that carries XYZ under *white* to XYZ under D50 (linear Bradford)."""
    gain = (BRADFORD @ np.array(D50_XYZ)) / (BRADFORD @ _xyz(white))
    return np.asarray(np.linalg.inv(BRADFORD) @ np.diag(gain) @ BRADFORD)


def colorants(red: Chromaticity, green: Chromaticity, blue: Chromaticity, white: Chromaticity) -> Array64:
    """Return the 3×3 matrix from linear RGB to XYZ under D50 (columns: red, green, blue).

    The luminance of each primary follows from RGB = 1, 1, 1 being the white (SMPTE RP 177-1993).
    """
    primaries = np.stack([_xyz(red), _xyz(green), _xyz(blue)], axis=1)
    luminance = np.linalg.solve(primaries, _xyz(white))
    return np.asarray(adapt_to_d50(white) @ (primaries * luminance))
