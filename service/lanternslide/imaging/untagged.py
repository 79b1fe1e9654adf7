"""What a file without a colour profile says of its colours in other ways: by its Exif, or by its XMP."""

from __future__ import annotations

import struct
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import ExifTags, Image

from lanternslide.imaging.declared import ADOBE_RGB, SRGB, Declared
from lanternslide.imaging.metadata.originals import packet_of
from lanternslide.imaging.metadata.tree import Xmp

__all__ = ["Untagged", "untagged"]

SRGB_CODE, UNCALIBRATED_CODE = 1, 0xFFFF
"""Values of ColorSpace (Exif 3.0, 4.6.6.2)."""

OPTIONAL, BASIC = "R03", "R98"
"""Interoperability indices: the optional colour space, Adobe RGB, and the basic one, sRGB (DCF 2.0, 3.4.2)."""

XMP_SPACE, XMP_PROFILE = "Xmp.exif.ColorSpace", "Xmp.photoshop.ICCProfile"
"""What XMP calls the colour space, and the profile, of its picture (XMP specification part 2; IPTC's schema)."""

UNCALIBRATED = "its metadata say that it is not in sRGB"

# How many pixels are too many is the config's word.
Image.MAX_IMAGE_PIXELS = None

UNREADABLE = (SyntaxError, ValueError, OSError, EOFError, KeyError, TypeError, RuntimeError, struct.error)
"""What Pillow raises where metadata are damaged; what was left behind is told when they are carried over."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Untagged:
    """What an untagged file says of its colours."""

    declared: Declared | None = None  #: A space that is known.
    hint: str | None = None  #: Why it may not be sRGB, where it names a space that is not known.


def untagged(path: Path) -> Untagged:
    """Return what the metadata of a file without a profile say of its colours; nothing where they say nothing.

    Raises
    ------
    OSError
        If the file cannot be opened.
    """
    said, mark = _by_exif(path)
    if mark == OPTIONAL:
        return Untagged(declared=ADOBE_RGB)
    space, profile = _by_xmp(path)
    if said == SRGB_CODE or (said is None and (mark == BASIC or space == str(SRGB_CODE))):
        return Untagged(declared=SRGB)
    if profile and "srgb" in profile.casefold():
        return Untagged(declared=SRGB)
    if profile:
        return Untagged(hint=f"its metadata name “{profile}”")
    if said == UNCALIBRATED_CODE or space == str(UNCALIBRATED_CODE):
        return Untagged(hint=UNCALIBRATED)
    return Untagged()


def _by_exif(path: Path) -> tuple[Any, Any]:
    """Return what Exif says: the colour space, and the interoperability index."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(path, formats=["JPEG", "TIFF", "PNG", "WEBP"]) as image:
                exif = image.getexif()
                said = exif.get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.ColorSpace)
                return said, exif.get_ifd(ExifTags.IFD.Interop).get(ExifTags.Interop.InteropIndex)
    except UNREADABLE:
        return None, None


def _by_xmp(path: Path) -> tuple[str, str]:
    """Return what XMP says: the colour space, and the name of a profile."""
    try:
        fields = Xmp.of(packet_of(path)).fields()
    except ValueError:
        return "", ""
    return str(fields.get(XMP_SPACE, "")).strip(), str(fields.get(XMP_PROFILE, "")).strip()
