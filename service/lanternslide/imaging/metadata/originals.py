"""Finding the XMP packet of an original, as it stands in the file.

The metadata library would hand it out as rewritten in the terms of whatever files it read before.
"""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO

from lanternslide.imaging.metadata.claims import LICENCES, NAMES, TERMS
from lanternslide.imaging.metadata.packets import EXTENSION, STANDARD
from lanternslide.imaging.tiff_layout import directory

__all__ = ["extension_of", "packet_of", "png_texts"]

APP1, SOS, EOI = 0xE1, 0xDA, 0xD9

MOST = 64 << 20
"""Bytes of XMP that are read at the most (a choice)."""

PNG, RIFF, TIFF = b"\x89PNG\r\n\x1a\n", b"RIFF", (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
KEYWORD = b"XML:com.adobe.xmp\0"
SPEAKING = frozenset({*NAMES["png"], *TERMS["png"], *LICENCES["png"], "copyright notice"})
"""Keywords of texts that speak of somebody."""

LONGEST_TEXT, MOST_TEXTS = 1 << 16, 64
"""Bytes of such a text, and how many of them, at the most (a choice)."""

XML_PACKET = 700
"""Where XMP stands in PNG and TIFF (XMP specification part 3, 1.1.5 and 1.1.7)."""


def packet_of(path: Path) -> bytes:
    """Return the (standard) XMP packet in a file; empty if there is none where it has to be."""
    with path.open("rb") as stream:
        head = stream.read(12)
        if head.startswith(TIFF):
            tags = directory(path, 0)
            packet = b"" if tags is None else tags.get(XML_PACKET, b"")
            return packet if isinstance(packet, bytes) else b""
        reader: Callable[[BinaryIO], bytes] = _in_jpeg
        if head.startswith(PNG):
            reader = _in_png
        elif head.startswith(RIFF):
            reader = _in_webp
        return reader(stream)


def _in_jpeg(stream: BinaryIO) -> bytes:
    found = (content[len(STANDARD) :] for content in _segments(stream) if content.startswith(STANDARD))
    return next(found, b"")


def _in_png(stream: BinaryIO) -> bytes:
    found = (content[len(KEYWORD) :] for _, content in _texts_of_png(stream) if content.startswith(KEYWORD))
    return next(map(_text_of_png, found), b"")


def png_texts(path: Path) -> dict[str, list[str]]:
    """Return the text chunks of a PNG that speak of somebody, by their keywords in lower case; none of another file.

    Source: PNG third edition, 11.3.3.

    Raises
    ------
    ValueError
        If one of them is damaged, or much longer than what a person writes.
    """
    texts: dict[str, list[str]] = {}
    with path.open("rb") as stream:
        if stream.read(len(PNG)) != PNG:
            return texts
        for kind, content in _texts_of_png(stream):
            word, _, rest = content.partition(b"\0")
            keyword = " ".join(word.decode("latin-1").casefold().split())
            if keyword not in SPEAKING:
                continue
            if sum(map(len, texts.values())) >= MOST_TEXTS or len(rest) > LONGEST_TEXT:
                raise ValueError("its text chunks are too long")
            if kind == b"tEXt":
                text = rest.decode("latin-1")
            elif kind == b"zTXt":
                text = _unpacked(rest[1:], LONGEST_TEXT).decode("latin-1")
            else:
                text = _itxt(rest, LONGEST_TEXT).decode("utf-8", "replace")
            texts.setdefault(keyword, []).append(text)
    return texts


def _texts_of_png(stream: BinaryIO) -> Iterator[tuple[bytes, bytes]]:
    """Yield the text chunks of a PNG: their kind and what they hold."""
    stream.seek(len(PNG))
    while len(head := stream.read(8)) == 8:
        length = int.from_bytes(head[:4])
        if head[4:] in (b"tEXt", b"zTXt", b"iTXt") and length <= MOST:
            yield head[4:], stream.read(length)
            length = 0
        stream.seek(length + 4, 1)


def _text_of_png(content: bytes) -> bytes:
    """Return the text behind an iTXt chunk's keyword: flag, method, language, translated keyword (PNG 11.3.3.4)."""
    try:
        return _itxt(content)
    except ValueError:
        return b""


def _itxt(content: bytes, most: int = MOST) -> bytes:
    is_packed, (_, _, text) = content[:1] == b"\1", _three(content[2:])
    return _unpacked(text, most) if is_packed else text


def _unpacked(data: bytes, most: int) -> bytes:
    unpacking = zlib.decompressobj()
    try:
        text = unpacking.decompress(data, most)
    except zlib.error as error:
        raise ValueError("a text chunk is damaged") from error
    if not unpacking.eof:
        raise ValueError("a text chunk is cut short, or too long")
    return text


def _three(content: bytes) -> tuple[bytes, bytes, bytes]:
    language, _, rest = content.partition(b"\0")
    keyword, _, text = rest.partition(b"\0")
    return language, keyword, text


def _in_webp(stream: BinaryIO) -> bytes:
    stream.seek(12)
    while len(head := stream.read(8)) == 8:
        length = int.from_bytes(head[4:], "little")
        if head[:4] == b"XMP " and length <= MOST:
            return stream.read(length)
        stream.seek(length + length % 2, 1)
    return b""


def extension_of(path: Path, digest: str) -> bytes:
    """Return the extension with a *digest* (hexadecimal) that a JPEG holds; empty if it is not there whole."""
    found = bytearray()
    filled = 0
    with path.open("rb") as stream:
        for content in _segments(stream):
            head, piece = content[len(EXTENSION) : len(EXTENSION) + 40], content[len(EXTENSION) + 40 :]
            if not content.startswith(EXTENSION) or len(head) < 40 or head[:32].decode("latin-1") != digest:
                continue
            length, offset = struct.unpack(">II", head[32:])
            if length > MOST or offset + len(piece) > length:
                return b""
            found.extend(bytes(max(0, length - len(found))))
            found[offset : offset + len(piece)] = piece
            filled += len(piece)
    whole = bytes(found)
    is_whole = filled == len(whole) and hashlib.md5(whole, usedforsecurity=False).hexdigest().upper() == digest.upper()
    return whole if is_whole else b""


def _segments(stream: BinaryIO) -> Iterator[bytes]:
    """Yield what the segments APP1 of a JPEG hold."""
    stream.seek(0)
    if stream.read(2) != b"\xff\xd8":
        return
    while len(head := _marker(stream)) == 4 and head[1] not in (SOS, EOI):
        length = int.from_bytes(head[2:]) - 2
        if length < 0:
            return
        if head[1] == APP1:
            yield stream.read(length)
        else:
            stream.seek(length, 1)


def _marker(stream: BinaryIO) -> bytes:
    """Return the next marker and its length; fill bytes before it are skipped (ITU-T T.81, B.1.1.2)."""
    head = stream.read(2)
    while head == b"\xff\xff":
        head = head[1:] + stream.read(1)
    return head + stream.read(2) if head[:1] == b"\xff" else b""
