"""The primaries and whites of working spaces, as CIE 1931 xy."""

from __future__ import annotations

from lanternslide.imaging.colour.chromaticity import D65_WHITE, SRGB_PRIMARIES, Chromaticity

__all__ = ["ADOBE_PRIMARIES", "BT2020_PRIMARIES", "P3_PRIMARIES", "WORKING_SPACES", "Primaries"]

Primaries = tuple[Chromaticity, Chromaticity, Chromaticity]

D50_WHITE, C_WHITE = (0.3457, 0.3585), (0.310, 0.316)
"""CIE 15:2018, table T.3 (from memory); ITU-T H.273, table 2."""

ADOBE_PRIMARIES: Primaries = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))
"""Adobe RGB (1998), 4.3.1; IEC 61966-2-5 has them, too."""

P3_PRIMARIES: Primaries = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
BT2020_PRIMARIES: Primaries = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))
"""ITU-T H.273, table 2, both with the white D65."""

WORKING_SPACES: tuple[tuple[Primaries, Chromaticity], ...] = (
    (SRGB_PRIMARIES, D65_WHITE),
    (ADOBE_PRIMARIES, D65_WHITE),
    (P3_PRIMARIES, D65_WHITE),
    (BT2020_PRIMARIES, D65_WHITE),
    # ISO 22028-2: ROMM RGB.
    (((0.7347, 0.2653), (0.1596, 0.8404), (0.0366, 0.0001)), D50_WHITE),
    # SMPTE RP 431-2: P3 under the white of cinemas.
    (P3_PRIMARIES, (0.314, 0.351)),
    # ISO 22028-4: eciRGB.
    (((0.67, 0.33), (0.21, 0.71), (0.14, 0.08)), D50_WHITE),
    # ITU-T H.273, table 2, numbers 4, 5, 6, 8 and 22.
    (((0.67, 0.33), (0.21, 0.71), (0.14, 0.08)), C_WHITE),
    (((0.64, 0.33), (0.29, 0.60), (0.15, 0.06)), D65_WHITE),
    (((0.630, 0.340), (0.310, 0.595), (0.155, 0.070)), D65_WHITE),
    (((0.681, 0.319), (0.243, 0.692), (0.145, 0.049)), C_WHITE),
    (((0.630, 0.340), (0.295, 0.605), (0.155, 0.077)), D65_WHITE),
    # SMPTE ST 2065-1, and S-2014-004 of the same system (from memory).
    (((0.7347, 0.2653), (0.0, 1.0), (0.0001, -0.0770)), (0.32168, 0.33767)),
    (((0.713, 0.293), (0.165, 0.830), (0.128, 0.044)), (0.32168, 0.33767)),
    # CIE 1931 RGB, and spaces of no standard that photographers have used: wide gamut, Apple RGB, ColorMatch, Best,
    # Beta, Bruce, Don 4, Ekta (from memory).
    (((0.7347, 0.2653), (0.2738, 0.7174), (0.1666, 0.0089)), (1 / 3, 1 / 3)),
    (((0.7347, 0.2653), (0.1152, 0.8264), (0.1566, 0.0177)), D50_WHITE),
    (((0.625, 0.340), (0.280, 0.595), (0.155, 0.070)), D65_WHITE),
    (((0.630, 0.340), (0.295, 0.605), (0.150, 0.075)), D50_WHITE),
    (((0.7347, 0.2653), (0.2150, 0.7750), (0.1300, 0.0350)), D50_WHITE),
    (((0.6888, 0.3112), (0.1986, 0.7551), (0.1265, 0.0352)), D50_WHITE),
    (((0.64, 0.33), (0.28, 0.65), (0.15, 0.06)), D65_WHITE),
    (((0.6960, 0.3000), (0.2150, 0.7650), (0.1300, 0.0350)), D50_WHITE),
    (((0.6950, 0.3050), (0.2600, 0.7000), (0.1100, 0.0050)), D50_WHITE),
)
"""Primaries and white of spaces that pictures are kept in."""
