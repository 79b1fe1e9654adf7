"""Reading Exif: text as what it was meant to be, whatever type and character set it was given."""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from typing import Any

import pyexiv2
from PIL import Image

from lanternslide.metadata.keys import Policy, is_of_maker, travels
from lanternslide.metadata.letters import codec_of, read

__all__ = ["POINTERS", "octets_of", "read_exif"]

TEXTS = frozenset({
    *(f"Exif.Image.{name}" for name in (
        "ImageDescription", "Make", "Model", "Software", "DateTime", "Artist", "HostComputer", "Copyright",
    )),
    *(f"Exif.Photo.{name}" for name in (
        "DateTimeOriginal", "DateTimeDigitized", "ImageUniqueID", "CameraOwnerName", "BodySerialNumber", "LensMake",
        "LensModel", "LensSerialNumber", "ImageTitle", "Photographer", "ImageEditor", "CameraFirmware",
        "RAWDevelopingSoftware", "ImageEditingSoftware", "MetadataEditingSoftware",
    )),
})  # fmt: skip
"""Tags of text (Exif 3.0, 4.6.4 to 4.6.6: ASCII or UTF-8)."""

ODD_TYPES = frozenset({"unknown", "Undefined", "Byte"})
"""Types as which text is found: Exif 3.0's UTF-8 (129), which the library does not know, and wrong ones."""

CAN_TRAVEL = travels("exif", Policy.WHOLE, keep_location=True, keep_serials=True)
NUMBER_TYPES = frozenset({"Short", "Long", "Rational", "SShort", "SLong", "SRational", "Float", "Double"})
MOST_NUMBERS = 16
"""Numbers in a tag at the most (a choice; of what travels, the longest in Exif 3.0 have four)."""

RESOLUTIONS = frozenset({"Exif.Image.XResolution", "Exif.Image.YResolution"})
RESOLUTION = re.compile(r"\d+(?:/[1-9]\d*)?")
"""Readers take a file for no picture where these are no numbers (seen with Pillow)."""

PLACE_NUMBERS = frozenset(
    f"Exif.GPSInfo.GPS{name}" for name in ("Latitude", "Longitude", "Altitude", "TimeStamp", "ImgDirection", "Speed")
)
POINTERS = frozenset({"Exif.Image.ExifTag", "Exif.Image.GPSTag", "Exif.Photo.InteroperabilityTag"})
"""Where further directories stand (Exif 3.0, 4.6.3); the library writes them anew."""

KNOWN_TYPES = frozenset({"Byte", "Ascii", "SByte", "Undefined", "Comment", *NUMBER_TYPES})
"""Types of TIFF 6.0, section 2, as the library calls them, and its own of the user comment."""

JPEG_BEGINS = " 255 216 255 "
"""How a JPEG begins (ITU-T T.81, B.1.1.3), as the library writes octets."""

NUMBERS = re.compile(r"\d{1,3}(?: \d{1,3})*")
COPYRIGHT, COPYRIGHT_TAG = "Exif.Image.Copyright", 0x8298
HALVES = 2


@dataclass(frozen=True, kw_only=True, slots=True)
class ExifFound:
    """The Exif of an original."""

    fields: dict[str, Any]
    anew: dict[str, str]  #: Fields whose text has to be written anew.
    damaged: frozenset[str]  #: Fields that are none.
    pictures: frozenset[str]  #: Fields that hold a JPEG.
    empty: frozenset[str]  #: Texts that say nothing, which have no right length.


def read_exif(image: Any) -> ExifFound:
    """Return the Exif of an *image*.

    Text of another type would be none otherwise, and behind the NUL that ends a text other things can stand: of a tag
    with a wrong length whatever lies behind it in the file, a position too. Numbers of that kind are left out.
    """
    fields: dict[str, Any] = {}
    anew: dict[str, str] = {}
    details = image.read_exif_detail(encoding="latin-1")
    texts = {key: _octets(detail) for key, detail in details.items() if _is_text(key, detail)}
    codec = codec_of(octets for every in texts.values() for octets in every)
    unknown: set[str] = set()
    for key, detail in details.items():
        if key not in texts:
            fields[key] = _plain(detail["value"])
            continue
        said = [read(octets, codec) or read(octets, codec_of([octets])) for octets in texts[key]]
        if any(text is None for text in said):
            unknown.add(key)
        anew[key] = "; ".join(text for text in said if text is not None)
        fields[key] = [text for text in said if text is not None] if len(said) > 1 else anew[key]
    if COPYRIGHT in fields and details[COPYRIGHT]["typeName"] == "Ascii" and COPYRIGHT not in unknown:
        _read_copyright(image, fields, anew, codec)
    damaged = unknown | {
        key for key, detail in details.items() if _is_damaged(key, detail["typeName"], detail["value"])
    }
    return ExifFound(
        fields={key: value for key, value in fields.items() if key not in damaged},
        anew=anew,
        damaged=frozenset(damaged),
        pictures=frozenset(key for key, detail in details.items() if JPEG_BEGINS in f" {detail['value']} "),
        empty=frozenset(key for key, text in anew.items() if not text.strip("\0 ")),
    )


def octets_of(value: Any) -> bytes:
    """Return octets that the library writes as numbers; none of anything else."""
    text = str(value)
    return bytes(int(number) & 0xFF for number in text.split()) if NUMBERS.fullmatch(text) else b""


def _is_text(key: str, detail: Any) -> bool:
    is_odd = key in TEXTS and detail["typeName"] in ODD_TYPES and NUMBERS.fullmatch(str(detail["value"])) is not None
    return is_odd or (detail["typeName"] == "Ascii" and not is_of_maker(key))


def _octets(detail: Any) -> list[bytes]:
    """Return the octets of a text, of each where there are several; what the library writes as numbers, too."""
    value = detail["value"]
    if detail["typeName"] != "Ascii":
        return [part for part in octets_of(value).split(b"\0") if part.strip()]
    return [str(text).encode("latin-1", "replace") for text in (value if isinstance(value, list) else [value])]


def _is_damaged(key: str, kind: str, value: Any) -> bool:
    """Return whether a tag has no numbers where it should, too many of them, or a type that is none."""
    if is_of_maker(key) or not CAN_TRAVEL(key):
        return False
    text = str(value)
    if key in TEXTS:
        return kind not in ODD_TYPES and kind != "Ascii"
    if key in RESOLUTIONS:
        return RESOLUTION.fullmatch(text) is None
    if key in POINTERS or key in PLACE_NUMBERS:
        return kind not in NUMBER_TYPES
    if kind in NUMBER_TYPES:
        return not 0 < len(text.split()) <= MOST_NUMBERS
    return kind not in KNOWN_TYPES


def _read_copyright(image: Any, fields: dict[str, Any], anew: dict[str, str], codec: str | None) -> None:
    """Read both halves of a copyright; with no more than those it can stay as it is."""
    whole = _whole_copyright(image, codec)
    if whole and sum(bool(part.strip()) for part in whole.split("\0")) <= HALVES:
        fields[COPYRIGHT] = whole
        anew.pop(COPYRIGHT, None)


def _whole_copyright(image: Any, codec: str | None) -> str:
    """Return both parts of a copyright, the photographer's and the editor's (Exif 3.0, 4.6.4), a NUL between them.

    The library hands out the first part alone.
    """
    parts = ("exif", "iptc", "xmp", "comment", "icc", "thumbnail")
    try:
        with pyexiv2.ImageData(_vehicle()) as copy:
            image.copy_to_another_image(copy, **{part: part == "exif" for part in parts})
            with Image.open(BytesIO(copy.get_bytes()), formats=("JPEG",)) as picture:
                octets = str(picture.getexif().get(COPYRIGHT_TAG, "")).encode("latin-1")
                return (read(octets, codec) or "").strip("\0")
    except (RuntimeError, OSError, ValueError, SyntaxError, TypeError, struct.error):
        return ""


@lru_cache(maxsize=1)
def _vehicle() -> bytes:
    stream = BytesIO()
    Image.new("L", (1, 1)).save(stream, "JPEG")
    return stream.getvalue()


def _plain(value: Any) -> Any:
    """Return a value that is none of the standard's texts: UTF-8, else Windows-1252, else Latin-1 (common practice)."""
    if isinstance(value, list):
        return [_plain(item) for item in value]
    for encoding in ("utf-8", "cp1252"):
        try:
            return str(value).encode("latin-1").decode(encoding)
        except UnicodeError:
            continue
    return str(value)
