"""Carrying Exif, IPTC and XMP from an original into a delivery.

The original is opened by path and only read. What describes the original's file rather than the picture (its
structure, orientation, embedded previews) and where it was taken never travels.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyexiv2

__all__ = ["Carried", "carry_metadata"]

MUTE = 4
pyexiv2.set_log_level(MUTE)

# TIFF 6.0, sections 8, 10 and 13 to 22, and Adobe's supplements: how the original's file is laid out.
STRUCTURE = frozenset(
    f"Exif.Image.{name}"
    for name in (
        "NewSubfileType", "SubfileType", "ImageWidth", "ImageLength", "BitsPerSample", "Compression",
        "PhotometricInterpretation", "Threshholding", "FillOrder", "StripOffsets", "SamplesPerPixel",
        "RowsPerStrip", "StripByteCounts", "PlanarConfiguration", "TransferFunction", "Predictor",
        "WhitePoint", "PrimaryChromaticities", "ColorMap", "TileWidth", "TileLength", "TileOffsets",
        "TileByteCounts", "SubIFDs", "InkSet", "ExtraSamples", "SampleFormat", "JPEGTables", "JPEGProc",
        "JPEGInterchangeFormat", "JPEGInterchangeFormatLength", "YCbCrCoefficients", "YCbCrSubSampling",
        "YCbCrPositioning", "ReferenceBlackWhite", "XMLPacket", "IPTCNAA", "ImageResources", "ImageSourceData",
        "InterColorProfile", "PageNumber", "GPSTag",
    )
)  # fmt: skip

NEVER_GROUPS = (
    "Exif.GPSInfo.",
    "Exif.Thumbnail.",
    "Exif.SubImage",
    "Exif.Image2.",
    "Exif.Image3.",
    "Exif.MpfInfo.",
)
"""Groups of Exif that hold the location, thumbnails, and further pictures."""

OTHER_PICTURES = (
    "Xmp.xmpGImg.",
    "Xmp.GImage",
    "Xmp.GContainer",
    "Xmp.Container",
    "Xmp.Item",
    "Xmp.hdrgm",
    "Xmp.HDRGainMap",
)
"""XMP that speaks of further pictures in the original's file: previews, depth, and maps for brighter displays."""

INTEROPERABILITY = "Exif.Iop.InteroperabilityIndex"
"""Which colour space a picture without profile is in (DCF 2.0, JEITA CP-3461A)."""

Changes = dict[str, str | None]


@dataclass(frozen=True, kw_only=True, slots=True)
class Carried:
    """A delivery with its metadata."""

    jpeg: bytes
    left_behind: tuple[str, ...]  #: What could not be carried over, for a person.


def _never_exif(key: str) -> bool:
    return key in STRUCTURE or key.startswith(NEVER_GROUPS)


def _never_xmp(key: str) -> bool:
    name = key.split(".", 2)[-1].lower()
    return "gps" in name or "thumbnails" in name or key.startswith(OTHER_PICTURES)


def _never_iptc(key: str) -> bool:
    return key.startswith("Iptc.Application2.Preview")


KINDS: Mapping[str, Callable[[str], bool]] = {"exif": _never_exif, "iptc": _never_iptc, "xmp": _never_xmp}
"""Each kind of metadata as the library calls it, and which of its keys never travel."""

PARTS = (*KINDS, "comment", "icc", "thumbnail")
"""All that the library can copy from file to file."""


def carry_metadata(original: Path, jpeg: bytes, *, width: int, height: int) -> Carried:
    """Return *jpeg* (the delivery, *width* × *height* pixels) with the metadata of *original*.

    What cannot be read or written is left behind and named; it never stops a delivery.
    """
    left: list[str] = []
    try:
        source = pyexiv2.Image(str(original))
    except (RuntimeError, UnicodeError) as error:
        return Carried(jpeg=jpeg, left_behind=(_first_line(error),))
    with source:
        for kind in KINDS:
            try:
                jpeg = _carry_kind(source, jpeg, kind, width, height)
            except (RuntimeError, UnicodeError, ValueError) as error:
                left.append(f"{kind}: {_first_line(error)}")
    return Carried(jpeg=jpeg, left_behind=tuple(left))


def _carry_kind(source: Any, jpeg: bytes, kind: str, width: int, height: int) -> bytes:
    never = KINDS[kind]
    with pyexiv2.ImageData(jpeg) as target:
        source.copy_to_another_image(target, **{part: part == kind for part in PARTS})
        carried = _read(target, kind)
        if not carried:
            return jpeg
        changes: Changes = {key: None for key in carried if never(key)}
        if kind == "exif":
            changes |= _about_the_delivery(carried, width, height)
        if "Xmp.tiff.Orientation" in carried:
            changes["Xmp.tiff.Orientation"] = "1"
        # A structure goes with its parts: children first, or the library no longer finds them.
        getattr(target, f"modify_{kind}")(dict(sorted(changes.items(), key=lambda item: -len(item[0]))))
        if kind == "exif":
            target.clear_thumbnail()
        if still := [key for key in _read(target, kind) if never(key)]:
            raise ValueError(f"{still[0]} could not be taken out")
        return bytes(target.get_bytes())


def _read(image: Any, kind: str) -> dict[str, Any]:
    return dict(getattr(image, f"read_{kind}")())


def _about_the_delivery(carried: Mapping[str, Any], width: int, height: int) -> Changes:
    """Return the Exif tags that speak of the file (Exif 3.0: orientation, pixel dimensions, colour space)."""
    changes: Changes = {"Exif.Image.Orientation": "1", "Exif.Photo.ColorSpace": "1"}
    if any(key.startswith("Exif.Photo.") for key in carried):
        changes |= {"Exif.Photo.PixelXDimension": str(width), "Exif.Photo.PixelYDimension": str(height)}
    if INTEROPERABILITY in carried:
        changes[INTEROPERABILITY] = "R98"  # sRGB (DCF 2.0)
    return changes


def _first_line(error: Exception) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0]
