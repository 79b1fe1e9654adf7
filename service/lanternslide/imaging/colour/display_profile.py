"""Telling the profile of a display from that of a working space.

Both are of the class ``mntr`` (ICC.1:2022, 7.2.5): sRGB, Adobe RGB and ROMM RGB are, as a calibrated screen is. So the
class shows nothing but that it can be one. What shows that it is one, each alone:

- A private tag that calibrating leaves: the curves for the graphics card (``vcgt``, ``vcgp``), a panel's native state
  (``ndin``), the matrix and curves of a hardware calibration (``MHC2``). All four from memory. The tag ``mmod``, the
  make and model of a device, shows nothing: well-known profiles of ROMM RGB have it, too.
- A description of the monitor by itself (VESA E-EDID) among the texts of the tag ``meta`` (ICC.1:2022, 9.2): their
  names begin with ``EDID_`` (common practice, no source).
- Curves that differ from channel to channel. A working space has one for all three, as in each standard that
  `primaries` names; a screen has three, as they were measured.

Primaries of no working space that is known (`primaries.WORKING_SPACES`) show nothing alone: everybody can make a space
of his own. They do together with one of these:

- the measured colours themselves (``targ``), the luminance in candela (``lumi``), or a kind of screen as the technology
  (``tech``), all in ICC.1:2022, 9.2;
- both the maker and the model of a device in the header (7.2.12, 7.2.13);
- a name such as “Color LCD” or “Bildschirm”.

But a name such as “Holiday RGB” is that of a working space, and primaries that span more than those of ITU-R BT.2020
are no screen's.

What cannot be told: a screen with the primaries of a working space, equal curves and no such tag. Pictures in its
profile look nearly the same in that working space. Nor can be told a screen that nothing names.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from functools import cache

import numpy as np

from lanternslide.imaging.colour.chromaticity import D65_WHITE, colorants
from lanternslide.imaging.colour.primaries import BT2020_PRIMARIES, WORKING_SPACES
from lanternslide.imaging.types import Array64

__all__ = ["is_of_display"]

CALIBRATION_TAGS = frozenset({"vcgt", "vcgp", "ndin", "MHC2"})
MONITORS_OWN = "EDID_".encode("utf-16-be")
SCREENS = (b"CRT ", b"PMD ", b"AMD ", b"LCD ", b"OLED")
"""Signatures of technologies (ICC.1:2022, 9.2; from memory)."""

NOBODY = (b"\0\0\0\0", b"    ", b"none", b"NONE")

CLOSE = 0.004
"""How far a chromaticity may lie from that of a working space (a choice): what rounding does is below, what screens
differ by is mostly above."""

WIDEST = 1.05
"""How many times the area of BT.2020 a screen may span (a choice): one that shows just that, as it was measured."""

DIFFERENT = 0.002
"""How much the linear light of one code differs between channels that were measured (a choice): rounding of a table is
below 0.0001."""

OF_WORKING_SPACES = re.compile(
    r"rgb|gamut|space|romm|prophoto|\bp3\b|\brec\b|\bbt\b|aces|smpte|ntsc|\bpal\b|cine|linear|working|gr[ae]y",
    re.IGNORECASE,
)
OF_DISPLAYS = re.compile(
    r"\b(?:monitor|display|screen|lcd|oled|crt|bildschirm|moniteur|écran|pantalla|schermo)\b", re.IGNORECASE
)
"""Words in the names of profiles (common practice, no source)."""

Codes = Callable[[Array64], Array64]


def is_of_display(
    head: bytes, tags: Mapping[str, bytes], name: str, matrix: Array64 | None, curves: Sequence[Codes] | None
) -> bool:
    """Return whether a profile of class ``mntr`` is that of a display.

    Parameters
    ----------
    head
        Its header, 128 bytes.
    tags
        Its tags by signature.
    name
        Its description.
    matrix
        From linear RGB to XYZ under D50 (columns: red, green, blue); None where it has none.
    curves
        From codes to linear light, one for each channel; None where it has none.
    """
    if not CALIBRATION_TAGS.isdisjoint(tags) or MONITORS_OWN in tags.get("meta", b""):
        return True
    if curves is not None and _differ(curves):
        return True
    if OF_WORKING_SPACES.search(name) or (matrix is not None and _is_working_space(matrix)):
        return False
    return "targ" in tags or (matrix is not None and _names_device(head, tags, name))


def _names_device(head: bytes, tags: Mapping[str, bytes], name: str) -> bool:
    is_named = head[48:52] not in NOBODY and head[52:56] not in NOBODY
    return is_named or "lumi" in tags or tags.get("tech", b"")[8:12] in SCREENS or OF_DISPLAYS.search(name) is not None


def _differ(curves: Sequence[Codes]) -> bool:
    code = np.linspace(0, 1, 65)
    light = np.stack([curve(code) for curve in curves])
    return bool(np.ptp(light, axis=0).max() > DIFFERENT)


def _is_working_space(matrix: Array64) -> bool:
    """Return whether primaries are those of a known working space, or wider than any screen's."""
    found = _chromaticities(matrix)
    widest = WIDEST * _area(_chromaticities(colorants(*BT2020_PRIMARIES, D65_WHITE)))
    if not np.isfinite(found).all() or _area(found) > widest:
        return True
    return bool((np.abs(_known() - found).max(axis=(1, 2)) < CLOSE).any())


@cache
def _known() -> Array64:
    """Return the chromaticities of all working spaces, shape (n, 3, 2).

    Under D50, and as they are under their own white, as some old profiles have them.
    """
    adapted = [_chromaticities(colorants(*primaries, white)) for primaries, white in WORKING_SPACES]
    return np.array([*adapted, *(primaries for primaries, _ in WORKING_SPACES)])


def _chromaticities(matrix: Array64) -> Array64:
    """Return x and y of red, green and blue, shape (3, 2)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray((matrix[:2] / matrix.sum(axis=0)).T)


def _area(points: Array64) -> float:
    """Return the area of a triangle, by its corners (3, 2)."""
    (ax, ay), (bx, by) = points[1] - points[0], points[2] - points[0]
    return float(abs(ax * by - ay * bx) / 2)
