"""What a file without a colour profile says of its colours in other ways: by its Exif, or by its XMP."""

from __future__ import annotations

import struct
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import ExifTags, Image

from lanternslide.imaging.colour.declared import ADOBE_RGB, SRGB, Declared
from lanternslide.metadata.files.packets_in_files import packets_of
from lanternslide.metadata.whose.claims import texts_of
from lanternslide.metadata.xmp.tree import Xmp

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

SIGNATURE_BYTES, MOST_CHUNKS, MOST_EXIF = 8, 100_000, 1 << 20
"""Bytes before a PNG's chunks; chunks that are looked at, and bytes of its Exif (a choice)."""

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
                if image.format == "PNG" and "exif" not in image.info and (late := _exif_behind_pixels(path)):
                    image.info["exif"] = late
                # A PNG's own function would decode all pixels first, to find what stands behind them.
                exif = Image.Image.getexif(image)
                said = exif.get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.ColorSpace)
                return said, exif.get_ifd(ExifTags.IFD.Interop).get(ExifTags.Interop.InteropIndex)
    except UNREADABLE:
        return None, None


def _exif_behind_pixels(path: Path) -> bytes:
    """Return what the eXIf chunk of a PNG holds (third edition, 11.3.4.5), wherever it stands; nothing without one."""
    with path.open("rb") as stream:
        stream.seek(SIGNATURE_BYTES)
        for _ in range(MOST_CHUNKS):
            head = stream.read(8)
            length = int.from_bytes(head[:4])
            if len(head) < 8:
                break
            if head[4:] == b"eXIf":
                return stream.read(length) if length <= MOST_EXIF else b""
            stream.seek(length + 4, 1)
    return b""


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
