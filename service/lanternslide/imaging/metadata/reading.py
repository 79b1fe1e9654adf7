"""Reading Exif and IPTC IIM: text as what it was meant to be, whatever type and character set it was given."""

from __future__ import annotations

import re
import struct
from functools import lru_cache
from io import BytesIO
from typing import Any

import pyexiv2
from PIL import Image

__all__ = ["read_exif", "read_iptc"]

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

NUMBERS = re.compile(r"\d{1,3}(?: \d{1,3})*")
COPYRIGHT, COPYRIGHT_TAG = "Exif.Image.Copyright", 0x8298


def read_exif(image: Any) -> tuple[dict[str, Any], dict[str, str]]:
    """Return the Exif fields of an *image*, and those of them whose text has to be written anew to be any."""
    fields: dict[str, Any] = {}
    anew: dict[str, str] = {}
    for key, detail in image.read_exif_detail(encoding="latin-1").items():
        value = detail["value"]
        if key in TEXTS and detail["typeName"] in ODD_TYPES and NUMBERS.fullmatch(str(value)):
            raw = bytes(int(number) & 0xFF for number in value.split())
            anew[key] = "; ".join(_text(part.decode("latin-1")) for part in raw.split(b"\0") if part.strip())
            value = anew[key]
        fields[key] = _text(value)
    if COPYRIGHT in fields and COPYRIGHT not in anew:
        fields[COPYRIGHT] = _whole_copyright(image) or fields[COPYRIGHT]
    return fields, anew


def _whole_copyright(image: Any) -> str:
    """Return both parts of a copyright, the photographer's and the editor's (Exif 3.0, 4.6.4), a NUL between them.

    The library hands out the first part alone.
    """
    parts = ("exif", "iptc", "xmp", "comment", "icc", "thumbnail")
    try:
        with pyexiv2.ImageData(_vehicle()) as copy:
            image.copy_to_another_image(copy, **{part: part == "exif" for part in parts})
            with Image.open(BytesIO(copy.get_bytes()), formats=("JPEG",)) as picture:
                return str(_text(picture.getexif().get(COPYRIGHT_TAG, ""))).strip("\0")
    except (RuntimeError, OSError, ValueError, SyntaxError, TypeError, struct.error):
        return ""


@lru_cache(maxsize=1)
def _vehicle() -> bytes:
    stream = BytesIO()
    Image.new("L", (1, 1)).save(stream, "JPEG")
    return stream.getvalue()


def read_iptc(image: Any) -> dict[str, Any]:
    """Return the IPTC fields of an *image*.

    Raises
    ------
    ValueError
        If they are damaged.
    """
    fields = {key: _text(value) for key, value in image.read_iptc(encoding="latin-1").items()}
    # A wrong length makes one field swallow the next ones (their mark is 1C hexadecimal: IPTC IIM 4.2, 1.5).
    if any("\x1c" in "".join(value) for value in fields.values()):
        raise ValueError("its fields run into one another")
    return fields


def _text(value: Any) -> Any:
    """Return text as what it was meant to be: UTF-8, else Windows-1252, else Latin-1 (common practice)."""
    if isinstance(value, list):
        return [_text(item) for item in value]
    for encoding in ("utf-8", "cp1252"):
        try:
            return str(value).encode("latin-1").decode(encoding)
        except UnicodeError:
            continue
    return str(value)
