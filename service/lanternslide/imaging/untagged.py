"""What a file without a colour profile says of its colours in other ways: by its Exif, or by its XMP."""

from __future__ import annotations

import struct
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import ExifTags, Image

from lanternslide.imaging.declared import ADOBE_RGB, SRGB, Declared
from lanternslide.imaging.metadata.claims import texts_of
from lanternslide.imaging.metadata.originals import packets_of
from lanternslide.imaging.metadata.tree import Xmp

__all__ = ["Untagged", "untagged"]

SRGB_CODE = 1
"""The value of ColorSpace that is sRGB; all others are not (Exif 3.0, 4.6.6.2)."""

OPTIONAL, BASIC = "R03", "R98"
"""Interoperability indices: the optional colour space, Adobe RGB, and the basic one, sRGB (DCF 2.0, 3.4.2)."""

XMP_SPACE, XMP_PROFILE = "Xmp.exif.ColorSpace", "Xmp.photoshop.ICCProfile"
"""What XMP calls the colour space, and the profile, of its picture (XMP specification part 2; IPTC's schema)."""

NAMED = {"srgb iec61966-2.1": SRGB, "srgb": SRGB, "srgb built-in": SRGB, "adobe rgb (1998)": ADOBE_RGB}
"""Profiles by their names, in lower case."""

NO_NAMES = frozenset({"none", "untagged", "untagged rgb", "untagged gray"})
"""What programs write for no profile (common practice, no source)."""

LONGEST_NAME = 120

UNCALIBRATED = "its metadata says that it is not in sRGB"

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
    if profile:
        known = NAMED.get(profile.casefold())
        return Untagged(declared=known) if known else Untagged(hint=f"its metadata names “{profile}”")
    if said == SRGB_CODE or (said is None and (mark == BASIC or space == str(SRGB_CODE))):
        return Untagged(declared=SRGB)
    if said is not None or space:
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
        packets = packets_of(path)
        fields = Xmp.of(packets[0]).fields() if packets else {}
    except ValueError:
        return "", ""
    space, profile = (texts_of(fields.get(key, "")) for key in (XMP_SPACE, XMP_PROFILE))
    name = profile[0][:LONGEST_NAME].strip() if len(profile) == 1 else ""
    return space[0] if space else "", "" if name.casefold() in NO_NAMES else name
