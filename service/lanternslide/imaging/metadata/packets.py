"""XMP packets: taking fields out and putting fields in, and how more than 64 KB of them are kept in a JPEG.

Source: XMP specification part 3 (2020), 1.1.3: the standard packet takes one segment of at most 65,502 bytes; what
does not fit is an extension, in pieces of at most 65,400 bytes here, bound to the packet by its MD5 digest.
"""

from __future__ import annotations

import hashlib
import re
import struct
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pyexiv2
from PIL import Image

from lanternslide.imaging.metadata.keys import Policy, travels

__all__ = ["changed", "extension_of", "fields_of", "joined", "with_packet"]

STANDARD = b"http://ns.adobe.com/xap/1.0/\0"
EXTENSION = b"http://ns.adobe.com/xmp/extension/\0"
NOTE = "http://ns.adobe.com/xmp/note/"
RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
MOST_STANDARD = 65_502
PIECE = 65_400
MOST_EXTENSION = 64 << 20
"""Bytes of an extension that are read at the most."""

APP1, SOS, EOI = 0xE1, 0xDA, 0xD9
DECLARES = re.compile(r"<!\s*(?:DOCTYPE|ENTITY)", re.IGNORECASE)
WRAPPER = re.compile(r"<\?xpacket[^>]*\?>")

Changes = dict[str, Any]


@lru_cache(maxsize=1)
def _vehicle() -> bytes:
    """Return a PNG of one pixel: a file whose XMP may have any size."""
    stream = BytesIO()
    Image.new("L", (1, 1)).save(stream, "PNG")
    return stream.getvalue()


def fields_of(packet: str) -> dict[str, Any]:
    """Return the fields of an XMP packet, as the library calls them.

    Raises
    ------
    RuntimeError
        If it is no XMP.
    """
    with pyexiv2.ImageData(_vehicle()) as image:
        image.modify_raw_xmp(packet)
        return dict(image.read_xmp())


def changed(packet: str, keep: Callable[[str], bool], changes: Mapping[str, Any]) -> str:
    """Return a *packet* (may be empty) with the fields that *keep* chooses and with *changes*; empty if none are left.

    Raises
    ------
    RuntimeError, ValueError
        If it is no XMP, or a field could not be taken out.
    """
    with pyexiv2.ImageData(_vehicle()) as image:
        if packet:
            image.modify_raw_xmp(packet)
        dropped = [key for key in image.read_xmp() if not keep(key)]
        # A structure goes with its parts: children first, or the library no longer finds them.
        image.modify_xmp(dict.fromkeys(sorted(dropped, key=len, reverse=True)))
        image.modify_xmp(dict(changes))
        left = image.read_xmp()
        if still := [key for key in left if not keep(key) and key not in changes]:
            raise ValueError(f"{still[0]} could not be taken out")
        return str(image.read_raw_xmp()) if left else ""


def with_packet(jpeg: bytes, packet: str) -> bytes:
    """Return *jpeg* (without XMP) with a *packet*, and an extension where it is too long for one segment."""
    standard, extension = packet.encode(), b""
    if len(standard) > MOST_STANDARD:
        standard, extension = _parted(packet)
    segments = [_segment(STANDARD + standard)]
    digest = hashlib.md5(extension, usedforsecurity=False).hexdigest().upper().encode()
    for offset in range(0, len(extension), PIECE):
        head = EXTENSION + digest + struct.pack(">II", len(extension), offset)
        segments.append(_segment(head + extension[offset : offset + PIECE]))
    at = _behind_the_first_segments(jpeg)
    return b"".join((jpeg[:at], *segments, jpeg[at:]))


def _segment(content: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, APP1, len(content) + 2) + content


def _behind_the_first_segments(jpeg: bytes) -> int:
    """Return where the segments APP0 (JFIF) and APP1 (Exif) that begin a JPEG end."""
    at = 2
    while jpeg[at] == 0xFF and jpeg[at + 1] in (0xE0, APP1):
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4])
    return at


def _parted(packet: str) -> tuple[bytes, bytes]:
    """Return the standard packet and the extension of a *packet* that is too long for one segment.

    The largest fields go into the extension first, those of rights last.
    """
    rights = travels("xmp", Policy.RIGHTS, keep_location=True)
    sizes: dict[str, int] = {}
    for key, value in fields_of(packet).items():
        root = re.split(r"[/\[]", key)[0]
        sizes[root] = sizes.get(root, 0) + len(key) + len(str(value).encode())
    moved: set[str] = set()
    for root in sorted(sizes, key=lambda root: (rights(root), -sizes[root])):
        moved.add(root)
        extension = WRAPPER.sub("", changed(packet, _those(moved), {})).strip().encode()
        note = {"Xmp.xmpNote.HasExtendedXMP": hashlib.md5(extension, usedforsecurity=False).hexdigest().upper()}
        standard = changed(packet, _others(moved), note).encode()
        if len(standard) <= MOST_STANDARD:
            return standard, extension
    raise ValueError("the XMP does not fit")


def _those(roots: set[str]) -> Callable[[str], bool]:
    return lambda key: re.split(r"[/\[]", key)[0] in roots


def _others(roots: set[str]) -> Callable[[str], bool]:
    return lambda key: re.split(r"[/\[]", key)[0] not in roots and not key.startswith("Xmp.xmpNote.")


def extension_of(path: Path, digest: str) -> bytes:
    """Return the extension with a *digest* (hexadecimal) that a JPEG holds; empty if it is not there whole."""
    found = bytearray()
    filled = 0
    for content in _segments(path):
        head, piece = content[len(EXTENSION) : len(EXTENSION) + 40], content[len(EXTENSION) + 40 :]
        if not content.startswith(EXTENSION) or len(head) < 40 or head[:32].decode("latin-1") != digest:
            continue
        length, offset = struct.unpack(">II", head[32:])
        if length > MOST_EXTENSION or offset + len(piece) > length:
            return b""
        found.extend(bytes(max(0, length - len(found))))
        found[offset : offset + len(piece)] = piece
        filled += len(piece)
    whole = bytes(found)
    is_whole = filled == len(whole) and hashlib.md5(whole, usedforsecurity=False).hexdigest().upper() == digest.upper()
    return whole if is_whole else b""


def _segments(path: Path) -> Iterator[bytes]:
    """Yield what the segments APP1 of a JPEG hold."""
    with path.open("rb") as stream:
        if stream.read(2) != b"\xff\xd8":
            return
        while len(head := stream.read(4)) == 4 and head[0] == 0xFF and head[1] not in (SOS, EOI):
            length = int.from_bytes(head[2:]) - 2
            if length < 0:
                return
            if head[1] == APP1:
                yield stream.read(length)
            else:
                stream.seek(length, 1)


def joined(packet: str, extension: bytes) -> str:
    """Return a standard *packet* with what its *extension* says.

    Raises
    ------
    ValueError
        If one of them is no XML.
    """
    root, more = (_parsed(text) for text in (packet, extension.decode("utf-8", "replace")))
    target = root if root.tag == f"{{{RDF}}}RDF" else root.find(f"{{{RDF}}}RDF")
    source = more if more.tag == f"{{{RDF}}}RDF" else more.find(f"{{{RDF}}}RDF")
    if target is None or source is None:
        raise ValueError("the extended XMP holds no RDF")
    for description in target:
        description.attrib.pop(f"{{{NOTE}}}HasExtendedXMP", None)
        for child in description.findall(f"{{{NOTE}}}HasExtendedXMP"):
            description.remove(child)
    about = next((description.get(f"{{{RDF}}}about", "") for description in target), "")
    for description in source:
        description.set(f"{{{RDF}}}about", about)
        target.append(description)
    return ET.tostring(root, encoding="unicode")


def _parsed(text: str) -> ET.Element:
    if DECLARES.search(text):
        raise ValueError("the XMP declares a document type, which XMP may not")
    try:
        return ET.fromstring(WRAPPER.sub("", text).strip())  # noqa: S314 - without a document type there is no attack
    except ET.ParseError as error:
        raise ValueError(f"the extended XMP is damaged ({error})") from error
