"""What files are made of: the segments of a JPEG, the text chunks of a PNG, the chunks of a WebP."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Literal

__all__ = [
    "MOST",
    "PNG",
    "RIFF",
    "TIFF",
    "PngText",
    "raw_profiles",
    "segments",
    "texts_of_png",
    "tiff_tag",
    "webp_chunks",
]

PNG, RIFF, TIFF = b"\x89PNG\r\n\x1a\n", b"RIFF", (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
SOS, EOI = 0xDA, 0xD9

MOST = 64 << 20
"""Bytes of metadata in one piece that are read at most (a choice)."""

WIDTHS = {1: 1, 2: 1, 6: 1, 7: 1, 4: 4, 9: 4, 13: 4}
"""Octets of a value by its type (TIFF 6.0, section 2), of those in which metadata is kept."""

MOST_TAGS = 10_000
"""Tags of a page that are looked at (a choice)."""

TEXT_KINDS = (b"tEXt", b"zTXt", b"iTXt")
RAW = "raw profile type "
RAW_TEXT = re.compile(rb"\s*[^\n]*\n\s*(\d+)\s+([0-9A-Fa-f\s]*)")
"""A name, a length and hexadecimal digits."""


def segments(stream: BinaryIO, kind: int) -> Iterator[bytes]:
    """Yield what the segments of one *kind* hold in a JPEG, before its pixels; nothing of another file."""
    stream.seek(0)
    if stream.read(2) != b"\xff\xd8":
        return
    while len(head := _marker(stream)) == 4 and head[1] not in (SOS, EOI):
        length = int.from_bytes(head[2:]) - 2
        if length < 0:
            return
        if head[1] == kind:
            yield stream.read(length)
        else:
            stream.seek(length, 1)


def _marker(stream: BinaryIO) -> bytes:
    """Return the next marker and its length; fill bytes before it are skipped (ITU-T T.81, B.1.1.2)."""
    head = stream.read(2)
    while head == b"\xff\xff":
        head = head[1:] + stream.read(1)
    return head + stream.read(2) if head[:1] == b"\xff" else b""


@dataclass(frozen=True, slots=True)
class PngText:
    """A text chunk of a PNG (PNG third edition, 11.3.3)."""

    keyword: str  #: In lower case, with single blanks.
    kind: bytes  #: ``tEXt``, ``zTXt`` or ``iTXt``.
    rest: bytes  #: What stands behind the keyword.

    def data(self, most: int = MOST) -> bytes:
        """Return the text as octets, unpacked.

        Raises
        ------
        ValueError
            If it is damaged, or longer than *most* octets.
        """
        if self.kind == b"tEXt":
            return self.rest
        if self.kind == b"zTXt":
            return _unpacked(self.rest[1:], most)
        # 11.3.3.4: flag, method, language, translated keyword
        is_packed = self.rest[:1] == b"\1"
        text = self.rest[2:].partition(b"\0")[2].partition(b"\0")[2]
        return _unpacked(text, most) if is_packed else text

    def text(self, most: int = MOST) -> str:
        """Return the text: Latin-1 in two kinds of chunk, UTF-8 in the third; UTF-8 in the others too, if it is that.

        Raises
        ------
        ValueError
            If it is damaged, or longer than *most* octets.
        """
        data = self.data(most)
        try:
            return data.decode()
        except UnicodeError:
            return data.decode("latin-1")


def _unpacked(data: bytes, most: int) -> bytes:
    unpacking = zlib.decompressobj()
    try:
        text = unpacking.decompress(data, most)
    except zlib.error as error:
        raise ValueError("a text chunk is damaged") from error
    if not unpacking.eof:
        raise ValueError("a text chunk is cut short, or too long")
    return text


def texts_of_png(stream: BinaryIO) -> Iterator[PngText]:
    """Yield the text chunks of a PNG."""
    stream.seek(len(PNG))
    while len(head := stream.read(8)) == 8:
        length = int.from_bytes(head[:4])
        if head[4:] in TEXT_KINDS and length <= MOST:
            word, _, rest = stream.read(length).partition(b"\0")
            yield PngText(" ".join(word.decode("latin-1").casefold().split()), head[4:], rest)
            length = 0
        stream.seek(length + 4, 1)


def raw_profiles(stream: BinaryIO) -> Iterator[tuple[str, bytes]]:
    """Yield the metadata that a PNG holds as hexadecimal text: the keyword, and the octets.

    Raises
    ------
    ValueError
        If they are damaged.
    """
    for chunk in texts_of_png(stream):
        if not chunk.keyword.startswith(RAW):
            continue
        found = RAW_TEXT.fullmatch(chunk.data().strip(b"\0"))
        digits = b"" if found is None else b"".join(found[2].split())
        if found is None or len(digits) != 2 * int(found[1]):
            raise ValueError("a raw profile is damaged")
        yield chunk.keyword, bytes.fromhex(digits.decode())


def tiff_tag(path: Path, tag: int) -> bytes:
    """Return the octets of a *tag* of a TIFF's first page, as they stand in the file; none if it is not there whole.

    Source: TIFF 6.0, section 2; BigTIFF has numbers of eight octets in place of four, and of two.
    """
    with path.open("rb") as stream:
        head = stream.read(16)
        order: Literal["little", "big"] = "little" if head[:2] == b"II" else "big"
        is_big = head[2:4] in (b"+\0", b"\0+")
        wide, narrow = (8, 8) if is_big else (4, 2)

        def number(data: bytes) -> int:
            return int.from_bytes(data, order)

        stream.seek(number(head[8:16] if is_big else head[4:8]))
        count = min(number(stream.read(narrow)), MOST_TAGS)
        size = 4 + 2 * wide
        entries = stream.read(count * size)
        for at in range(0, len(entries), size):
            entry = entries[at : at + size]
            if number(entry[:2]) != tag or len(entry) < size:
                continue
            length = WIDTHS.get(number(entry[2:4]), 0) * number(entry[4 : 4 + wide])
            if length > MOST:
                return b""
            if length <= wide:
                return entry[4 + wide :][:length]
            stream.seek(number(entry[4 + wide :]))
            found = stream.read(length)
            return found if len(found) == length else b""
    return b""


def webp_chunks(stream: BinaryIO) -> Iterator[tuple[bytes, int]]:
    """Yield the name and length of each chunk of a WebP; what reads its content leaves the stream behind it."""
    at = 12
    while True:
        stream.seek(at)
        head = stream.read(8)
        if len(head) < 8:
            return
        length = int.from_bytes(head[4:], "little")
        yield head[:4], length
        at += 8 + length + length % 2
