"""Reading an embedded colour profile into curves and a matrix (ICC.1:2022, versions 2 and 4).

Only what a matrix or grey profile needs is read; offsets and counts come from an untrusted file and are
checked against its length.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from lanternslide.imaging.colour.display_profile import is_of_display
from lanternslide.imaging.types import Array64

__all__ = ["Curve", "Profile", "ProfileError", "read_profile"]

MAX_TAGS = 200
MAX_CURVE = 65536
PARAMETRIC_COUNTS = (1, 3, 4, 5, 7)
"""Parameters of function types 0 to 4 (ICC.1:2022, table 68)."""

OF_MATRIX = {"rXYZ", "gXYZ", "bXYZ", "rTRC", "gTRC", "bTRC"}
"""The tags of a profile of three primaries and curves (ICC.1:2022, 8.4.3)."""


class ProfileError(ValueError):
    """A profile is broken."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Curve:
    """A transfer curve from encoded values to linear light."""

    table: tuple[float, ...] | None = None  #: Samples over [0, 1], interpolated.
    function: int = 0  #: The parametric function's type, 0 to 4, where there is no table.
    parameters: tuple[float, ...] = (1.0,)  #: g, a, b, c, d, e, f.

    def __call__(self, code: Array64) -> Array64:
        """Return linear light (clipped to 0..1) of encoded values from 0 to 1, any shape."""
        if self.table is not None:
            positions = np.linspace(0.0, 1.0, len(self.table))
            return np.asarray(np.interp(code, positions, self.table))
        return np.clip(_parametric(self.function, self.parameters, code), 0.0, 1.0)


def _parametric(function: int, parameters: tuple[float, ...], x: Array64) -> Array64:
    """Return the parametric curve's values (ICC.1:2022, 10.18, table 68)."""
    g, a, b, c, d, e, f = parameters + (0.0,) * (7 - len(parameters))
    if function == 0:
        return np.asarray(np.maximum(x, 0.0) ** g)
    power = np.maximum(a * x + b, 0.0) ** g
    if function in (1, 2):
        start = -b / a if a else 0.0
        return np.where(x >= start, power + c, c)  # type 1 has no c: 0
    if function == 3:
        return np.where(x >= d, power, c * x)
    return np.where(x >= d, power + e, c * x + f)


@dataclass(frozen=True, kw_only=True, slots=True)
class Profile:
    """What a profile says of a colour space."""

    name: str  #: Its description.
    space: str  #: The data colour space: ``RGB``, ``GRAY``, ``CMYK``, ...
    device: str  #: The class: ``mntr``, ``scnr``, ``prtr``, ``spac``, ``link``, ...
    curves: tuple[Curve, ...] | None  #: One for each channel; None where the profile works through tables only.
    matrix: Array64 | None  #: From linear RGB to XYZ under D50, shape (3, 3); None for grey.
    of_display: bool  #: Whether it is that of one display.


def read_profile(data: bytes) -> Profile:
    """Return what the ICC profile *data* says.

    Raises
    ------
    ProfileError
        If the bytes are no sound profile.
    """
    if len(data) < 132 or data[36:40] != b"acsp":
        raise ProfileError("it is no ICC profile")
    tags = _tags(data)
    space = data[16:20].decode("latin-1").strip()
    device = data[12:16].decode("latin-1").strip()
    name = _description(tags.get("desc", b""))
    curves: tuple[Curve, ...] | None = None
    matrix: Array64 | None = None
    if space == "RGB" and tags.keys() >= OF_MATRIX:
        # A profile with both tables and a matrix is meant to be used by its tables (ICC.1:2022, 8.10).
        if "A2B0" not in tags and "A2B1" not in tags and data[20:24] == b"XYZ ":
            curves, matrix = _curves_and_matrix(tags)
            if abs(np.linalg.det(matrix)) < 1e-6:
                raise ProfileError("its primaries lie on one line")
    elif space == "GRAY" and "kTRC" in tags and data[20:24] == b"XYZ ":  # under Lab it is a curve of lightness
        curves = (_curve(tags["kTRC"]),)
    return Profile(
        name=name,
        space=space,
        device=device,
        curves=curves,
        matrix=matrix,
        of_display=device == "mntr" and _is_of_display(data[:128], tags, name),
    )


def _curves_and_matrix(tags: Mapping[str, bytes]) -> tuple[tuple[Curve, ...], Array64]:
    curves = tuple(_curve(tags[tag]) for tag in ("rTRC", "gTRC", "bTRC"))
    return curves, np.array([_xyz(tags[tag]) for tag in ("rXYZ", "gXYZ", "bXYZ")]).T


def _is_of_display(head: bytes, tags: Mapping[str, bytes], name: str) -> bool:
    """Return whether a profile is that of a display; its matrix speaks, too, where tables are used."""
    curves: tuple[Curve, ...] | None = None
    matrix: Array64 | None = None
    if tags.keys() >= OF_MATRIX:
        with suppress(ProfileError):
            curves, matrix = _curves_and_matrix(tags)
    return is_of_display(head, tags, name, matrix, curves)


def _tags(data: bytes) -> dict[str, bytes]:
    (count,) = struct.unpack_from(">I", data, 128)
    if count > MAX_TAGS or len(data) < 132 + 12 * count:
        raise ProfileError("its list of tags is damaged")
    tags: dict[str, bytes] = {}
    for index in range(count):
        signature, offset, size = struct.unpack_from(">4sII", data, 132 + 12 * index)
        if offset + size > len(data) or size < 8:
            raise ProfileError("it is cut short")
        tags.setdefault(signature.decode("latin-1"), data[offset : offset + size])
    return tags


def _xyz(tag: bytes) -> tuple[float, ...]:
    if tag[:4] != b"XYZ " or len(tag) < 20:
        raise ProfileError("a primary is damaged")
    return tuple(value / 65536 for value in struct.unpack_from(">3i", tag, 8))


def _curve(tag: bytes) -> Curve:
    if tag[:4] == b"curv" and len(tag) >= 12:
        return _sampled_curve(tag)
    if tag[:4] == b"para" and len(tag) >= 12:
        (function,) = struct.unpack_from(">H", tag, 8)
        if function < len(PARAMETRIC_COUNTS) and len(tag) >= 12 + 4 * PARAMETRIC_COUNTS[function]:
            values = struct.unpack_from(f">{PARAMETRIC_COUNTS[function]}i", tag, 12)
            return _rising(Curve(function=function, parameters=tuple(value / 65536 for value in values)))
    raise ProfileError("a transfer curve is damaged")


def _rising(curve: Curve) -> Curve:
    if curve.parameters[0] <= 0:
        raise ProfileError("a transfer curve does not rise")
    return curve


def _sampled_curve(tag: bytes) -> Curve:
    (count,) = struct.unpack_from(">I", tag, 8)
    if count == 0:
        return Curve()
    if count > MAX_CURVE or len(tag) < 12 + 2 * count:
        raise ProfileError("a transfer curve is damaged")
    values = struct.unpack_from(f">{count}H", tag, 12)
    if count == 1:
        return _rising(Curve(parameters=(values[0] / 256,)))
    return Curve(table=tuple(value / 65535 for value in values))


def _description(tag: bytes) -> str:
    """Return the profile's name from a textDescriptionType (v2) or multiLocalizedUnicodeType (v4) tag."""
    text = ""
    if tag[:4] == b"desc" and len(tag) > 12:
        (count,) = struct.unpack_from(">I", tag, 8)
        text = tag[12 : 12 + count].decode("latin-1")
    elif tag[:4] == b"mluc" and len(tag) >= 28:
        length, offset = struct.unpack_from(">II", tag, 20)
        text = tag[offset : offset + length].decode("utf-16-be", "replace")
    printable = "".join(c for c in text.split("\0")[0] if c.isprintable())
    return printable.strip()[:120]
