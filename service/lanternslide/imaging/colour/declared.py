"""Colour spaces that a file declares without a profile: by a number, or by primaries and a curve."""

from __future__ import annotations

from dataclasses import dataclass

from lanternslide.imaging.colour.chromaticity import D65_WHITE, SRGB_PRIMARIES, Chromaticity
from lanternslide.imaging.colour.icc_read import Curve
from lanternslide.imaging.colour.primaries import ADOBE_PRIMARIES

__all__ = ["ADOBE_RGB", "SRGB", "SRGB_CURVE", "Declared"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Declared:
    """A space of three primaries, a white and one curve."""

    curve: Curve
    primaries: tuple[Chromaticity, Chromaticity, Chromaticity]  #: Red, green, blue; xy.
    white: Chromaticity  #: xy.
    name: str  #: For a person.


SRGB_CURVE = Curve(function=3, parameters=(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045))
"""IEC 61966-2-1:1999, 5.2, in the form of ICC.1:2022, 10.18, type 3."""

SRGB = Declared(curve=SRGB_CURVE, primaries=SRGB_PRIMARIES, white=D65_WHITE, name="sRGB")

ADOBE_RGB = Declared(
    curve=Curve(parameters=(563 / 256,)),
    primaries=ADOBE_PRIMARIES,
    white=D65_WHITE,
    name="Adobe RGB (1998)",
)
"""Adobe RGB (1998), 4.3.4.2."""
