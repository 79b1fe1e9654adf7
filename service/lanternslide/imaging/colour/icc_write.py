"""Writing the bytes of a small matrix profile (ICC.1:2001-04, version 2.4: every reader takes it).

Deterministic: the same arguments give the same bytes, and the creation date is fixed.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Sequence

import numpy as np

from lanternslide.imaging.types import Array64

__all__ = ["adapt_to_d50", "colorants", "matrix_profile", "srgb_profile"]

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


def _s15fixed16(value: float) -> bytes:
    return struct.pack(">i", round(value * 65536))


def _xyz_tag(xyz: Iterable[float]) -> bytes:
    return b"XYZ \0\0\0\0" + b"".join(_s15fixed16(v) for v in xyz)


def _desc_tag(text: str) -> bytes:
    ascii_text = text.encode("ascii") + b"\0"
    # The Unicode and script parts are present and empty, as textDescriptionType requires.
    return b"desc\0\0\0\0" + struct.pack(">I", len(ascii_text)) + ascii_text + bytes(8) + bytes(3 + 67)


def _curve_tag(curve: float | Sequence[int]) -> bytes:
    if isinstance(curve, Sequence):
        return b"curv\0\0\0\0" + struct.pack(">I", len(curve)) + struct.pack(f">{len(curve)}H", *curve)
    return b"curv\0\0\0\0" + struct.pack(">IH", 1, round(curve * 256))


def matrix_profile(
    description: str,
    red: Chromaticity,
    green: Chromaticity,
    blue: Chromaticity,
    white: Chromaticity,
    curve: float | Sequence[int],
) -> bytes:
    """Return the bytes of a display profile of class 'mntr' with three equal curves and a matrix.

    Parameters
    ----------
    description
        The profile's name, ASCII.
    red, green, blue, white
        Chromaticities, CIE 1931 xy.
    curve
        A gamma (stored with 8 fractional bits), or a table of 2 or more 16-bit values from 0 to 65535.
    """
    matrix = colorants(red, green, blue, white)
    tags: list[tuple[bytes, bytes]] = [
        (b"desc", _desc_tag(description)),
        (b"cprt", b"text\0\0\0\0No copyright, use freely\0"),
        (b"wtpt", _xyz_tag(D50_XYZ)),
        (b"chad", b"sf32\0\0\0\0" + b"".join(_s15fixed16(v) for v in adapt_to_d50(white).flat)),
        (b"rXYZ", _xyz_tag(matrix[:, 0])),
        (b"gXYZ", _xyz_tag(matrix[:, 1])),
        (b"bXYZ", _xyz_tag(matrix[:, 2])),
    ]
    tags += [(name, _curve_tag(curve)) for name in (b"rTRC", b"gTRC", b"bTRC")]
    body = b""
    table = struct.pack(">I", len(tags))
    start = 128 + 4 + 12 * len(tags)
    placed: dict[bytes, int] = {}
    for name, data in tags:
        if data not in placed:
            placed[data] = start + len(body)
            body += data + bytes(-len(data) % 4)
        table += name + struct.pack(">II", placed[data], len(data))
    header = struct.pack(
        ">I4sI4s4s4s6H4s4sI4sI8sI12s",
        start + len(body), b"\0\0\0\0", 0x02400000, b"mntr", b"RGB ", b"XYZ ",
        2026, 1, 1, 0, 0, 0, b"acsp", b"\0\0\0\0", 0, b"\0\0\0\0", 0, bytes(8), 0,
        b"".join(_s15fixed16(v) for v in D50_XYZ),
    )  # fmt: skip
    return header + bytes(128 - len(header)) + table + body


def srgb_profile() -> bytes:
    """Return the sRGB profile that every delivery carries (about 2.5 kB; curve of 1024 entries)."""
    code = np.linspace(0.0, 1.0, 1024)
    # IEC 61966-2-1:1999, 5.2
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    table = [int(v) for v in np.rint(linear * 65535)]
    return matrix_profile("sRGB", *SRGB_PRIMARIES, D65_WHITE, table)
