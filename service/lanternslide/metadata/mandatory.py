"""The Exif tags that a JPEG has to have, in their own types.

Source: Exif 3.0 (CIPA DC-008-2023), 4.6.8, table 21 ff.: what is mandatory in the directories of a compressed picture.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

__all__ = ["mandatory"]

VERSION, FLASHPIX = "Exif.Photo.ExifVersion", "Exif.Photo.FlashpixVersion"
VERSIONS = {VERSION: "0300", FLASHPIX: "0100"}
"""Versions where a file has none: of Exif 3.0, and of Flashpix 1.0 (4.6.6.1); four letters, no end."""

PLAIN = {
    "Exif.Image.YCbCrPositioning": "1",  # centred, as in JFIF 1.02 (4.6.5.1)
    "Exif.Photo.ComponentsConfiguration": "1 2 3 0",  # Y, Cb, Cr (4.6.6.3)
}
DENSITY = ("Exif.Image.XResolution", "Exif.Image.YResolution")
UNIT, INCH, USUAL = "Exif.Image.ResolutionUnit", "2", 72
"""Dots per inch where it is not known (4.6.5.1)."""

FOUR = re.compile(r"\s*(\d{3,4})\s*\Z")
GPS_VERSION, GPS = "Exif.GPSInfo.GPSVersionID", "2 4 0 0"
"""The version of what says the position (4.6.7.1)."""


def mandatory(exif: Mapping[str, Any], density: tuple[int, int] | None, *, has_place: bool) -> dict[str, str]:
    """Return the tags to write anew, for a delivery whose *exif* is what travels of the original's.

    What the original says itself stays, in the right type: versions are four letters, whatever they were stored as.
    """
    wanted = {key: _letters(_version(str(exif.get(key, ""))) or usual) for key, usual in VERSIONS.items()}
    wanted |= PLAIN
    wanted |= {key: f"{value}/1" for key in DENSITY if (value := str(exif.get(key, ""))).isdigit()}
    if any(key not in exif for key in DENSITY):
        across, down = density or (USUAL, USUAL)
        wanted |= {DENSITY[0]: f"{across}/1", DENSITY[1]: f"{down}/1", UNIT: INCH}
    elif UNIT not in exif:
        wanted[UNIT] = INCH  # what is meant where it is not said
    if has_place and GPS_VERSION not in exif:
        wanted[GPS_VERSION] = GPS
    return wanted


def _version(value: str) -> str | None:
    """Return a version of four digits, from letters or from the numbers of letters."""
    if found := FOUR.match(value):
        return found[1].zfill(4)
    codes = [int(number) for number in value.split() if number.isdigit()]
    letters = "".join(chr(code) for code in codes if 0 <= code < 0x110000)
    return letters if len(codes) == 4 and re.fullmatch(r"\d{4}", letters) else None


def _letters(version: str) -> str:
    return " ".join(str(ord(letter)) for letter in version)
