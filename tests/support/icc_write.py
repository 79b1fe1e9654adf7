"""Writing the bytes of a small matrix profile (ICC.1:2001-04, version 2.4: every reader takes it).

Deterministic: the same arguments give the same bytes, and the creation date is fixed. ``PYTHONPATH=service
python -m tests.support.icc_write`` writes the profile that every delivery carries.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Sequence
from importlib.resources import files
from pathlib import Path

import numpy as np

from lanternslide.imaging.colour.chromaticity import (
    D50_XYZ,
    D65_WHITE,
    SRGB_PRIMARIES,
    Chromaticity,
    adapt_to_d50,
    colorants,
)

__all__ = ["matrix_profile", "srgb_written"]


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


def srgb_written() -> bytes:
    """Return the bytes of the sRGB profile, from its standard."""
    code = np.linspace(0.0, 1.0, 1024)
    # IEC 61966-2-1:1999, 5.2
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    table = [int(v) for v in np.rint(linear * 65535)]
    return matrix_profile("sRGB", *SRGB_PRIMARIES, D65_WHITE, table)


if __name__ == "__main__":
    Path(str(files("lanternslide.imaging.colour").joinpath("srgb.icc"))).write_bytes(srgb_written())
