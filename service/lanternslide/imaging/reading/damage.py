"""What is said of a file that cannot be decoded: a few plain reasons, since what decoders say is for programmers."""

from __future__ import annotations

import re
import struct
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import BinaryIO

from lanternslide.errors import OriginalHeldError
from lanternslide.words import Held

__all__ = ["cut_short", "not_decoded", "not_opened", "overwritten"]

CUT_SHORT = re.compile(r"read error at|truncat|premature|end of (?:data|file)|unexpected end", re.IGNORECASE)
TOO_LITTLE_MEMORY = re.compile(r"out of memory -- size|insufficient memory \(case", re.IGNORECASE)
"""What libtiff, libjpeg, libvips and Pillow say (found by trying; "insufficient memory" from memory). A damaged TIFF
makes libtiff speak of memory, too."""

MOST_PARTS = 100_000
"""Parts of a file that are looked at; more of them are no accident."""


def cut_short() -> OriginalHeldError:
    """Return the reason of a file whose end is missing."""
    return OriginalHeldError(Held.CUT_SHORT, detail="the rest of the picture is missing")


def overwritten() -> OriginalHeldError:
    """Return the reason of a file whose pixels are wrong in some place."""
    return OriginalHeldError(Held.DAMAGED, detail="a part of the file is missing or was overwritten")


def not_opened(path: Path, kind: str, text: str = "") -> Exception:
    """Return what it means that the beginning of a file cannot be read, of which a decoder says *text*."""
    return _general(path, kind, text) or OriginalHeldError(Held.DAMAGED, detail="its header makes no sense")


def not_decoded(path: Path, kind: str, text: str) -> Exception:
    """Return what it means that pixels of a file cannot be read, of which a decoder says *text*."""
    return _general(path, kind, text) or overwritten()


def _general(path: Path, kind: str, text: str) -> Exception | None:
    text = text.replace(str(path), "")  # a name can say anything
    if TOO_LITTLE_MEMORY.search(text):
        return MemoryError(text)
    return cut_short() if CUT_SHORT.search(text) or _ends_early(path, kind) else None


def _ends_early(path: Path, kind: str) -> bool:
    """Return whether a file is shorter than its own beginning says, as far as that can be told without decoding."""
    size = path.stat().st_size
    with path.open("rb") as stream:
        try:
            return ENDS[kind](stream, size)
        except struct.error:  # the file ends within a length
            return True


def _jpeg(stream: BinaryIO, size: int) -> bool:
    """Return whether a JPEG ends before its pixels begin (ITU-T T.81, B.1.1.4)."""
    at = 2
    for _ in range(MOST_PARTS):
        stream.seek(at)
        prefix, marker = struct.unpack(">BB", stream.read(2))
        if prefix != 0xFF:
            return False
        if marker == 0xFF:  # a fill byte
            at += 1
            continue
        if marker in (0xD9, 0xDA):  # the end, or the pixels
            return False
        if marker == 0x01 or 0xD0 <= marker <= 0xD8:  # they have no length
            at += 2
            continue
        (length,) = struct.unpack(">H", stream.read(2))
        at += 2 + length
        if at >= size:
            return True
    return False


def _png(stream: BinaryIO, size: int) -> bool:
    """Return whether a PNG ends before its last chunk (PNG, third edition, 5.3 and 5.6)."""
    at = 8
    for _ in range(MOST_PARTS):
        stream.seek(at)
        length, name = struct.unpack(">I4s", stream.read(8))
        if not name.isalpha():
            return False
        at += 12 + length
        if at > size:
            return True
        if name == b"IEND":
            return False
    return False


def _webp(stream: BinaryIO, size: int) -> bool:
    """Return whether a WebP is shorter than it says (RFC 9649, from memory)."""
    stream.seek(4)
    (length,) = struct.unpack("<I", stream.read(4))
    return bool(8 + length > size)


def _tiff(stream: BinaryIO, size: int) -> bool:
    """Return whether a TIFF ends before its first directory does (TIFF 6.0, section 2; BigTIFF)."""
    order = "<" if stream.read(2) == b"II" else ">"
    (version,) = struct.unpack(f"{order}H", stream.read(2))
    wide = version == 43
    stream.seek(8 if wide else 4)
    (offset,) = struct.unpack(f"{order}{'Q' if wide else 'I'}", stream.read(8 if wide else 4))
    if offset < 8:  # that is where the header ends
        return False
    if offset + (8 if wide else 2) > size:
        return True
    stream.seek(offset)
    (count,) = struct.unpack(f"{order}{'Q' if wide else 'H'}", stream.read(8 if wide else 2))
    return bool(0 < count <= MOST_PARTS and offset + count * (20 if wide else 12) > size)


ENDS: Mapping[str, Callable[[BinaryIO, int], bool]] = {"JPEG": _jpeg, "PNG": _png, "TIFF": _tiff, "WebP": _webp}
"""Whether a file of a kind ends early."""
