"""What files are made of: the segments of a JPEG, the text chunks of a PNG, the chunks of a WebP."""

from __future__ import annotations

import zlib
from collections.abc import Collection, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Literal

__all__ = [
    "MOST",
    "PNG",
    "RIFF",
    "TIFF",
    "PngText",
    "chunks_of_png",
    "chunks_of_webp",
    "is_tiff",
    "raw_profiles",
    "segments",
    "texts_of_png",
    "tiff_tag",
]

PNG, RIFF, TIFF = b"\x89PNG\r\n\x1a\n", b"RIFF", (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
SOS, EOI = 0xDA, 0xD9

ALONE = frozenset({0x01, *range(0xD0, 0xD9)})
"""Markers without a length: TEM, RST and SOI (ITU-T T.81, table B.1)."""

MOST = 64 << 20
"""Bytes of metadata in one piece that are read at most (a choice)."""

WIDTHS = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4, 16: 8, 17: 8, 18: 8}
"""Octets of a value by its type (TIFF 6.0, section 2, its supplement 1, and BigTIFF)."""

MOST_TAGS = 10_000
"""Tags of a page that are looked at (a choice)."""

TEXT_KINDS = frozenset({b"tEXt", b"zTXt", b"iTXt"})


def segments(stream: BinaryIO, kind: int) -> Iterator[bytes]:
    """Yield what the segments of one *kind* hold in a JPEG, before its pixels; nothing of another file."""
    stream.seek(0)
    if stream.read(2) != b"\xff\xd8":
        return
    while (marker := _marker(stream)) not in (None, SOS, EOI):
        length = int.from_bytes(stream.read(2)) - 2
        if length < 0:
            return
        if marker == kind:
            yield stream.read(length)
        else:
            stream.seek(length, 1)


def _marker(stream: BinaryIO) -> int | None:
    """Return the next marker that a length follows, or one that ends them; None at the end of the file.

    Fill bytes before it (ITU-T T.81, B.1.1.2) are skipped, and stray ones, as decoders do.
    """
    before = b""
    while octet := stream.read(1):
        if before == b"\xff" and octet not in (b"\xff", b"\0") and octet[0] not in ALONE:
            return octet[0]
        before = octet
    return None


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

        What is neither is read as Windows wrote Latin-1 (common practice, no source).

        Raises
        ------
        ValueError
            If it is damaged, or longer than *most* octets.
        """
        data = self.data(most)
        for codec in ("utf-8", "cp1252"):
            with suppress(UnicodeError):
                return data.decode(codec)
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


def chunks_of_png(stream: BinaryIO, kinds: Collection[bytes]) -> Iterator[tuple[bytes, bytes]]:
    """Yield the chunks of some *kinds* of a PNG: name and content.

    Raises
    ------
    ValueError
        If one of them is longer than `MOST`.
    """
    stream.seek(len(PNG))
    while len(head := stream.read(8)) == 8:
        length = int.from_bytes(head[:4])
        if head[4:] in kinds:
            yield head[4:], _content(stream, length)
            length = 0
        stream.seek(length + 4, 1)


def _content(stream: BinaryIO, length: int) -> bytes:
    if length > MOST:
        raise ValueError(f"a chunk of {length} bytes is too long")
    return stream.read(length)


def texts_of_png(stream: BinaryIO) -> Iterator[PngText]:
    """Yield the text chunks of a PNG.

    Raises
    ------
    ValueError
        If one of them is longer than `MOST`.
    """
    for kind, content in chunks_of_png(stream, TEXT_KINDS):
        word, _, rest = content.partition(b"\0")
        yield PngText(" ".join(word.decode("latin-1").casefold().split()), kind, rest)


def raw_profiles(stream: BinaryIO, keywords: Collection[str]) -> Iterator[tuple[str, bytes]]:
    """Yield the metadata that a PNG holds as hexadecimal text behind some *keywords*: the keyword, and the octets.

    Raises
    ------
    ValueError
        Behind the last, if one of them is damaged, or too long.
    """
    fault: ValueError | None = None
    for chunk in texts_of_png(stream):
        if chunk.keyword not in keywords:
            continue
        try:
            data = _from_digits(chunk.data())
        except ValueError as error:
            fault = error
        else:
            yield chunk.keyword, data
    if fault is not None:
        raise fault


def _from_digits(data: bytes) -> bytes:
    """Return the octets of a raw profile: lines with a name, a length, and hexadecimal digits."""
    lines = data.strip(b"\0 \r\n\t").split(b"\n", 2)
    digits = b"".join(lines[2].split()) if len(lines) == 3 else b""
    if not digits or not lines[1].strip().isdigit() or len(digits) != 2 * int(lines[1]):
        raise ValueError("a raw profile is damaged")
    return bytes.fromhex(digits.decode("ascii"))


def is_tiff(path: Path) -> bool:
    """Return whether a file begins as a TIFF does."""
    with path.open("rb") as stream:
        return stream.read(4).startswith(TIFF)


def tiff_tag(path: Path, tag: int) -> bytes:
    """Return the octets of a *tag* of a TIFF's first page, as they stand in the file; none if it is not there.

    Source: TIFF 6.0, section 2; BigTIFF has numbers of eight octets in place of four, and of two.

    Raises
    ------
    ValueError
        If it is not there whole, or of a type that is none.
    """
    size_of_file = path.stat().st_size
    with path.open("rb") as stream:
        head = stream.read(16)
        order: Literal["little", "big"] = "little" if head[:2] == b"II" else "big"
        is_big = head[2:4] in (b"+\0", b"\0+")
        wide, narrow = (8, 8) if is_big else (4, 2)

        def number(data: bytes) -> int:
            return int.from_bytes(data, order)

        first = number(head[8:16] if is_big else head[4:8])
        if first > size_of_file:
            return b""
        stream.seek(first)
        count = min(number(stream.read(narrow)), MOST_TAGS)
        size = 4 + 2 * wide
        entries = stream.read(count * size)
        for at in range(0, len(entries), size):
            entry = entries[at : at + size]
            if number(entry[:2]) != tag or len(entry) < size:
                continue
            kind, amount, place = number(entry[2:4]), number(entry[4 : 4 + wide]), number(entry[4 + wide :])
            length = WIDTHS.get(kind, 0) * amount
            if length <= wide and kind in WIDTHS:
                return entry[4 + wide :][:length]
            if kind not in WIDTHS or length > MOST or place + length > size_of_file:
                raise ValueError("a tag is damaged, or too long")
            stream.seek(place)
            return stream.read(length)
    return b""


def chunks_of_webp(stream: BinaryIO, kinds: Collection[bytes]) -> Iterator[bytes]:
    """Yield what the chunks of some *kinds* of a WebP hold.

    Raises
    ------
    ValueError
        If one of them is longer than `MOST`.
    """
    at = 12
    while True:
        stream.seek(at)
        head = stream.read(8)
        if len(head) < 8:
            return
        length = int.from_bytes(head[4:], "little")
        if head[:4] in kinds:
            yield _content(stream, length)
        at += 8 + length + length % 2
