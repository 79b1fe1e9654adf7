"""Reading originals: which reader takes which format is decided here, from the file's first bytes.

JPEG has a reader of its own, but for panoramas; libvips reads the rest. Pillow cuts 16-bit colour down to 8 bits
without a word, so it reads nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.reading import read_jpeg, read_vips
from lanternslide.imaging.reading.read_jpeg import is_read_whole
from lanternslide.imaging.reading.source import Header
from lanternslide.imaging.reading.untagged import untagged
from lanternslide.imaging.types import Codes
from lanternslide.words import Held

__all__ = ["read_bands", "read_header", "sniff"]

HEAD_BYTES = 16

MAGIC = (
    (b"\xff\xd8\xff", "JPEG"),
    (b"\x89PNG\r\n\x1a\n", "PNG"),
    (b"II*\0", "TIFF"),
    (b"MM\0*", "TIFF"),
    (b"II+\0", "TIFF"),
    (b"MM\0+", "TIFF"),
)
"""First bytes: ITU-T T.81 B.1.1.3; PNG (third edition) 5.2; TIFF 6.0 section 2; BigTIFF."""

OTHERS = (
    (b"%PDF", "it is a PDF document"),
    (b"GIF87a", "it is a GIF"),
    (b"GIF89a", "it is a GIF"),
    (b"\0\0\0\x0cJXL \r\n\x87\n", "it is a JPEG XL"),
    (b"\xff\x0a", "it is a JPEG XL"),
    (b"\0\0\0\x0cjP  \r\n\x87\n", "it is a JPEG 2000"),
    (b"PK\3\4", "it is a ZIP archive"),
)
"""First bytes of what is dropped now and then: ISO 32000-1, 7.5.2; GIF89a, 17; ISO/IEC 18181-2 and 15444-1, I.5.1, and
ZIP from memory."""


def sniff(path: Path) -> str:
    """Return the format that the first bytes of *path* show.

    Raises
    ------
    OriginalHeldError
        If the file is empty or none of the formats.
    """
    with path.open("rb") as stream:
        head = stream.read(HEAD_BYTES)
    if not head:
        raise OriginalHeldError(Held.EMPTY)
    for magic, kind in MAGIC:
        if head.startswith(magic):
            return kind
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "WebP"
    raise OriginalHeldError(Held.NOT_A_PICTURE, found=_look_of(head))


def _look_of(head: bytes) -> str:
    """Return what the first bytes look like, for a person."""
    if not any(head):
        return "its beginning is all zeros, as if it had never been copied"
    if head[4:8] == b"ftyp":
        return "it is an HEIF, AVIF or video file"
    for magic, kind in OTHERS:
        if head.startswith(magic):
            return kind
    text = head.decode("utf-8", "replace")
    if all(c.isprintable() or c in "\r\n\t\ufffd" for c in text) and text.count("\ufffd") <= 1:
        return "it looks like text"
    return "it begins like none"


def read_header(path: Path) -> Header:
    """Return the header of the original at *path*; no pixel is decoded.

    Raises
    ------
    OriginalHeldError
        If it is no picture that can be read.
    OSError
        If the file cannot be opened.
    """
    kind = sniff(path)
    header = read_jpeg.header(path) if kind == "JPEG" else read_vips.header(path, kind)
    if header.icc is not None or header.declared is not None or header.hint is not None:
        return header
    said = untagged(path)
    return replace(header, declared=said.declared, hint=said.hint)


def read_bands(header: Header, remarks: list[str]) -> Iterator[Codes]:
    """Yield the pixels as stored, in bands of `BAND_ROWS` rows (the last has what is left).

    Each band has the shape (rows, stored width, channels, opacity and others included), uint8 or uint16, native byte
    order. What a decoder remarks on, and the picture may have survived, is added to *remarks*.

    Raises
    ------
    OriginalHeldError
        If the file is damaged or cut short.
    """
    size = header.stored_width, header.stored_height, header.channels
    if header.kind == "JPEG" and is_read_whole(*size):
        return read_jpeg.bands(header, remarks)
    return read_vips.bands(header, remarks)
