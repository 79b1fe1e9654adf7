"""What a PNG says of its colours outside a profile.

Source: Portable Network Graphics (PNG) Specification (Third Edition), W3C Recommendation, 2025: of several statements
the first in the order cICP, iCCP, sRGB, gAMA with cHRM counts (4.3, Colour spaces; 11.3.2).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path

from lanternslide.imaging.colour.chromaticity import D65_WHITE, SRGB_PRIMARIES, Chromaticity
from lanternslide.imaging.colour.declared import SRGB, SRGB_CURVE, Declared
from lanternslide.imaging.colour.icc_read import Curve
from lanternslide.imaging.colour.primaries import BT2020_PRIMARIES, P3_PRIMARIES

__all__ = ["PngColour", "read_png_colour"]

SIGNATURE_BYTES = 8
WANTED = {b"cICP": 4, b"sRGB": 1, b"gAMA": 4, b"cHRM": 32}
"""The chunks that are read, and their lengths."""

NOT_READ = "it declares a space, such as one for bright displays, that lanternslide does not read"

NEAR, SRGB_GAMMA, NEAR_GAMMA = 0.005, 2.2, 0.05
"""How near primaries, and an exponent, have to be to count as sRGB's (choices)."""

MAX_CHUNKS = 1000

PRIMARIES_BY_NUMBER = {1: SRGB_PRIMARIES, 9: BT2020_PRIMARIES, 12: P3_PRIMARIES}
"""ITU-T H.273, table 2, all with the white D65."""

PRIMARIES_CALLED = {1: "sRGB", 9: "Rec. 2020", 12: "P3"}
CURVES_CALLED = {4: "gamma 2.2", 5: "gamma 2.8", 8: "linear", 13: "sRGB's curve"}
CALLED = {(1, 13): "sRGB", (12, 13): "Display P3"}
"""What people call primaries, curves, and both together."""

CAMERA_CURVE = Curve(
    function=3, parameters=(1 / 0.45, 1 / 1.09929683, 0.09929683 / 1.09929683, 1 / 4.5, 4.5 * 0.01805397)
)
CURVES_BY_NUMBER = {
    1: CAMERA_CURVE,
    4: Curve(parameters=(2.2,)),
    5: Curve(parameters=(2.8,)),
    6: CAMERA_CURVE,
    8: Curve(parameters=(1.0,)),
    13: SRGB_CURVE,
    14: CAMERA_CURVE,
    15: CAMERA_CURVE,
}
"""ITU-T H.273, table 3, inverted; those for a high dynamic range (16, 18) are not there."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PngColour:
    """What a PNG declares."""

    before_profile: Declared | None = None  #: By cICP, which counts more than a profile.
    without_profile: Declared | None = None  #: By sRGB, or gAMA with cHRM, which count less.
    hint: str | None = None  #: Why it may not be in sRGB, where it declares a space that is not read.


def read_png_colour(path: Path) -> PngColour:
    """Return what the chunks before the pixels say; what makes no sense is as if it were not there.

    Raises
    ------
    OSError
        If the file cannot be opened.
    """
    chunks = _chunks(path)
    by_number = _by_number(chunks[b"cICP"]) if b"cICP" in chunks else None
    by_values = SRGB if b"sRGB" in chunks else _by_values(chunks.get(b"gAMA"), chunks.get(b"cHRM"))
    hint = NOT_READ if b"cICP" in chunks and by_number is None else None
    return PngColour(before_profile=by_number, without_profile=by_values, hint=hint)


def _chunks(path: Path) -> dict[bytes, bytes]:
    found: dict[bytes, bytes] = {}
    with path.open("rb") as stream:
        stream.seek(SIGNATURE_BYTES)
        for _ in range(MAX_CHUNKS):
            head = stream.read(8)
            if len(head) < 8 or head[4:] == b"IDAT":
                break
            length = int.from_bytes(head[:4], "big")
            if WANTED.get(head[4:]) == length:
                found.setdefault(head[4:], stream.read(length))
                length = 0
            stream.seek(length + 4, 1)
    return found


def _by_number(data: bytes) -> Declared | None:
    """Return the space of a cICP chunk (11.3.2.6): RGB in full range, of a standard dynamic range."""
    primaries, curve, matrix, full_range = data
    if matrix or full_range != 1 or primaries not in PRIMARIES_BY_NUMBER or curve not in CURVES_BY_NUMBER:
        return None
    return Declared(
        curve=CURVES_BY_NUMBER[curve], primaries=PRIMARIES_BY_NUMBER[primaries], white=D65_WHITE,
        name=CALLED.get(
            (primaries, curve), f"{PRIMARIES_CALLED[primaries]} primaries, {CURVES_CALLED.get(curve, 'a video curve')}"
        ),
    )  # fmt: skip


def _by_values(gamma: bytes | None, chromaticities: bytes | None) -> Declared | None:
    """Return the space of gAMA and cHRM (11.3.2.1, 11.3.2.2); what one of them leaves open is sRGB's."""
    curve = _curve(gamma) if gamma else None
    points = _points(chromaticities) if chromaticities else None
    if curve is None and points is None:
        return None
    white, *primaries = points or (D65_WHITE, *SRGB_PRIMARIES)
    meant = (D65_WHITE, *SRGB_PRIMARIES)
    is_srgb = max(abs(a - b) for one, other in zip((white, *primaries), meant, strict=True)
                  for a, b in zip(one, other, strict=True)) < NEAR  # fmt: skip
    exponent = curve.parameters[0] if curve else None
    name = f"{'sRGB' if is_srgb else 'its own'} primaries" + (f", gamma {exponent:.3g}" if exponent else "")
    # What programs write for sRGB where they cannot name it (PNG third edition, 11.3.2.5).
    if is_srgb and (exponent is None or abs(exponent - SRGB_GAMMA) < NEAR_GAMMA):
        name = SRGB.name
    return Declared(
        curve=curve or SRGB_CURVE, primaries=(primaries[0], primaries[1], primaries[2]), white=white, name=name,
    )  # fmt: skip


def _curve(gamma: bytes) -> Curve | None:
    (value,) = struct.unpack(">I", gamma)
    exponent = 100_000 / value if value else 0.0
    return Curve(parameters=(exponent,)) if 0.2 <= exponent <= 5 else None


def _points(chromaticities: bytes) -> tuple[Chromaticity, ...] | None:
    """Return white, red, green and blue, if they span a triangle with the white inside it."""
    values = [value / 100_000 for value in struct.unpack(">8I", chromaticities)]
    points = tuple(zip(values[::2], values[1::2], strict=True))
    if any(not 0 <= x <= 1 or not 0 < y <= 1 for x, y in points):
        return None
    white, red, green, blue = points
    sides = [_turn(red, green, white), _turn(green, blue, white), _turn(blue, red, white)]
    return points if min(sides) > 1e-3 or max(sides) < -1e-3 else None


def _turn(a: Chromaticity, b: Chromaticity, c: Chromaticity) -> float:
    """Return twice the area of a triangle, negative if it runs clockwise."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
