"""Finding the XMP packet of an original, and the texts of a PNG, as they stand in the file.

The metadata library would hand out a packet as rewritten in the terms of whatever files it read before.
"""

from __future__ import annotations

import hashlib
import re
import struct
from collections.abc import Iterator
from pathlib import Path

from lanternslide.metadata.files.containers import (
    MOST,
    PNG,
    RIFF,
    TIFF,
    chunks_of_png,
    chunks_of_webp,
    raw_profiles,
    segments,
    texts_of_png,
    tiff_tag,
)
from lanternslide.metadata.whose.claims import LICENCES, NAMES, TERMS
from lanternslide.metadata.xmp.packets import EXTENSION, STANDARD

__all__ = ["MOST_PACKETS", "exif_blocks", "extension_of", "has_extension", "packets_of", "png_texts"]

APP1 = 0xE1

EXIF, XPACKET, LONGEST_NAME = b"Exif\0", b"<?xpacket begin", 64
"""How a segment of Exif begins, and a packet; where the latter is looked for (bytes; a choice)."""

KEYWORD, RAW, RAW_SEGMENT = "xml:com.adobe.xmp", "raw profile type xmp", "raw profile type app1"
"""Where XMP stands in a PNG (XMP specification part 3, 1.1.5), and where programs put it too."""

SPEAKING = frozenset({*NAMES["png"], *TERMS["png"], *LICENCES["png"], "title", "description"})
"""Keywords of texts that travel, or speak of somebody."""

LONGEST_TEXT, MOST_TEXTS = 1 << 16, 64
"""Bytes of such a text, and how many of them, at the most (a choice)."""

RAW_EXIF = frozenset({"raw profile type exif", "raw profile type app1"})
"""Where programs put Exif in a PNG that has a chunk of its own for it."""

XML_PACKET = 700
"""Where XMP stands in TIFF (XMP specification part 3, 1.1.7)."""

EMPTY = re.compile(rb"<\?xpacket\b[^<>]*\?>|\xef\xbb\xbf|[\s\0]")
"""What a packet without anything in it consists of."""


MOST_PACKETS = 8
"""Packets of a file that are looked at (a choice)."""


def packets_of(path: Path) -> list[bytes]:
    """Return the (standard) XMP packets in a file that say anything, each once; one more than `MOST_PACKETS` at most.

    One that is not whole in the file is among them, as no XMP.

    Raises
    ------
    ValueError
        If what holds them is damaged, or too long.
    """
    found: dict[bytes, None] = {}
    for packet in _packets(path):
        if EMPTY.sub(b"", packet):
            found[packet] = None
        if len(found) > MOST_PACKETS:
            break
    return list(found)


def _packets(path: Path) -> Iterator[bytes]:
    with path.open("rb") as stream:
        head = stream.read(12)
        if head.startswith(TIFF):
            yield tiff_tag(path, XML_PACKET)
        elif head.startswith(PNG):
            yield from (chunk.data() for chunk in texts_of_png(stream) if chunk.keyword == KEYWORD)
            try:
                for keyword, data in raw_profiles(stream, {RAW, RAW_SEGMENT}):
                    if keyword == RAW or data.startswith(STANDARD):
                        yield data.removeprefix(STANDARD)
            except ValueError as error:  # that costs those none that are whole
                yield str(error).encode()
        elif head.startswith(RIFF):
            yield from chunks_of_webp(stream, {b"XMP "})
        else:
            every = [data for data in segments(stream, APP1) if not data.startswith(EXIF)]
            yield from (data[len(STANDARD) :] for data in every if data.startswith(STANDARD))
            # Some programs get the name of the segment wrong.
            others = [data for data in every if not data.startswith((STANDARD, EXTENSION))]
            yield from (data[data.index(XPACKET) :] for data in others if XPACKET in data[:LONGEST_NAME])


def exif_blocks(path: Path) -> int:
    """Return how many blocks of Exif that differ a JPEG, PNG or WebP has; none of another file.

    Raises
    ------
    ValueError
        If one of them is damaged.
    """
    with path.open("rb") as stream:
        head = stream.read(12)
        if head.startswith(PNG):
            found = [data for _, data in chunks_of_png(stream, {b"eXIf"})]
            found += [data for _, data in raw_profiles(stream, RAW_EXIF) if data.startswith(EXIF)]
        elif head.startswith(RIFF):
            found = list(chunks_of_webp(stream, {b"EXIF"}))
        else:
            found = [data for data in segments(stream, APP1) if data.startswith(EXIF)]
    return len({data.removeprefix(EXIF).lstrip(b"\0") for data in found})


def png_texts(path: Path) -> dict[str, list[str]]:
    """Return the text chunks of a PNG that say something of its author or of what it shows; none of another file.

    They are found by their keywords in lower case. Source: PNG third edition, 11.3.3.

    Raises
    ------
    ValueError
        If one of them is damaged, or much longer than what a person writes.
    """
    texts: dict[str, list[str]] = {}
    with path.open("rb") as stream:
        if stream.read(len(PNG)) != PNG:
            return texts
        for chunk in texts_of_png(stream):
            if chunk.keyword not in SPEAKING:
                continue
            if sum(map(len, texts.values())) >= MOST_TEXTS or len(chunk.rest) > LONGEST_TEXT:
                raise ValueError("its text chunks are too long")
            texts.setdefault(chunk.keyword, []).append(chunk.text(LONGEST_TEXT))
    return texts


def has_extension(path: Path) -> bool:
    """Return whether a JPEG holds a piece of an extension of its XMP."""
    with path.open("rb") as stream:
        return any(data.startswith(EXTENSION) for data in segments(stream, APP1))


def extension_of(path: Path, digest: str) -> bytes:
    """Return the extension with a *digest* (hexadecimal) that a JPEG holds; empty if it is not there whole."""
    found = bytearray()
    filled = 0
    with path.open("rb") as stream:
        for content in segments(stream, APP1):
            head, piece = content[len(EXTENSION) : len(EXTENSION) + 40], content[len(EXTENSION) + 40 :]
            if (
                not content.startswith(EXTENSION)
                or len(head) < 40
                or head[:32].decode("latin-1").upper() != digest.upper()
            ):
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
