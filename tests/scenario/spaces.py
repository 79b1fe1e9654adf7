"""The colour spaces of the demo originals: primaries, transfer curves and embedded profiles."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lanternslide.imaging.colour.chromaticity import colorants
from tests.scenario.arrays import Array
from tests.support.icc_write import matrix_profile

__all__ = ["ADOBE", "P3", "ROMM", "SRGB", "Space"]

Chromaticity = tuple[float, float]

D65: Chromaticity = (0.3127, 0.3290)
"""CIE D65, as the standards of these spaces round it."""

D50: Chromaticity = (0.3457, 0.3585)
"""CIE D50, as ISO 22028-2 rounds it."""


def srgb_encode(linear: Array) -> Array:
    """Return the code of *linear*, both 0…1 (IEC 61966-2-1:1999, 5.2)."""
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** np.float32(1 / 2.4) - 0.055)


def power_encode(gamma: float) -> Callable[[Array], Array]:
    """Return the function linear → linear ** (1 / *gamma*), both 0…1."""
    return lambda linear: np.asarray(linear ** np.float32(1 / gamma), np.float32)


def srgb_table() -> list[int]:
    """Return the decoding curve of sRGB as 1024 entries of 16 bits."""
    code = np.linspace(0.0, 1.0, 1024)
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return [int(v) for v in np.rint(linear * 65535)]


@dataclass(frozen=True, kw_only=True)
class Space:
    """An RGB space: how colours are written in it, and the profile that says so."""

    #: The description in the embedded profile
    name: str
    #: Chromaticities of red, green, blue and white, CIE 1931 xy
    corners: tuple[Chromaticity, Chromaticity, Chromaticity, Chromaticity]
    #: Linear 0…1 to code 0…1
    encode: Callable[[Array], Array]
    #: The profile's curve: a gamma, or a table of 16-bit values
    curve: float | list[int]

    def profile(self) -> bytes:
        """Return the bytes of the space's profile."""
        return matrix_profile(self.name, *self.corners, self.curve)

    def ink(self, red: float, green: float, blue: float) -> Array:
        """Return a linear colour given under sRGB's primaries as (3,) of this space, adapted by Bradford."""
        matrix = np.linalg.solve(colorants(*self.corners), colorants(*SRGB.corners))
        return np.asarray(matrix @ np.array([red, green, blue]), np.float32)

    def codes(self, linear: Array, bits: int) -> Array:
        """Return *linear* encoded to codes 0…2**bits - 1, clipped, not yet rounded."""
        return self.encode(np.clip(linear, 0, 1)) * np.float32(2**bits - 1)


SRGB = Space(
    name="sRGB",
    corners=((0.64, 0.33), (0.30, 0.60), (0.15, 0.06), D65),
    encode=srgb_encode,
    curve=srgb_table(),
)
"""IEC 61966-2-1:1999."""

ADOBE = Space(
    name="Skerrow wide RGB (Adobe RGB 1998 compatible)",
    corners=((0.64, 0.33), (0.21, 0.71), (0.15, 0.06), D65),
    encode=power_encode(563 / 256),
    curve=563 / 256,
)
"""Adobe RGB (1998) Color Image Encoding, version 2005-05, 4.3."""

ROMM = Space(
    name="Skerrow very wide RGB (ROMM RGB compatible, plain gamma 1.8)",
    corners=((0.7347, 0.2653), (0.1596, 0.8404), (0.0366, 0.0001), D50),
    encode=power_encode(1.8),
    curve=1.8,
)
"""ISO 22028-2:2013, without the short straight part of its curve near black."""

P3 = Space(
    name="Skerrow display RGB (Display P3 compatible)",
    corners=((0.68, 0.32), (0.265, 0.69), (0.15, 0.06), D65),
    encode=srgb_encode,
    curve=srgb_table(),
)
"""The primaries of SMPTE RP 431-2:2011 under D65, with the curve of sRGB."""
