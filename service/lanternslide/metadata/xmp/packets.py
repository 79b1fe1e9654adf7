"""XMP packets: how properties are written, and how more than 64 KB of them are kept in a JPEG.

Source: XMP specification part 1 (ISO 16684-1), 7.3; part 3 (2020), 1.1.3: the standard packet takes one segment of at
most 65,502 bytes; what does not fit is an extension, in pieces of at most 65,400 bytes here, bound to the packet by its
MD5 digest.
"""

from __future__ import annotations

import hashlib
import html
import re
import struct
from collections.abc import Iterator
from functools import lru_cache
from io import BytesIO
from xml.etree import ElementTree as ET

import pyexiv2
from PIL import Image

from lanternslide.metadata.keys import Policy, travels
from lanternslide.metadata.xmp.namespaces import PREFIXES, RDF, tag_of
from lanternslide.metadata.xmp.tree import Xmp, key_of

__all__ = ["EXTENSION", "STANDARD", "checked", "with_xmp"]

STANDARD = b"http://ns.adobe.com/xap/1.0/\0"
EXTENSION = b"http://ns.adobe.com/xmp/extension/\0"
MOST_STANDARD = 65_502
PIECE = 65_400
APP1 = 0xE1

HEAD = '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'
TAIL = '<?xpacket end="w"?>'
NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_.\-]*")


def with_xmp(jpeg: bytes, xmp: Xmp) -> bytes:
    """Return *jpeg* (without XMP) with *xmp*, and an extension where it is too long for one segment."""
    standard, extension = _written(xmp), b""
    if len(standard) > MOST_STANDARD:
        standard, extension = _parted(xmp, len(standard))
    checked(standard)
    segments = [_segment(STANDARD + standard)]
    digest = hashlib.md5(extension, usedforsecurity=False).hexdigest().upper().encode()
    for offset in range(0, len(extension), PIECE):
        head = EXTENSION + digest + struct.pack(">II", len(extension), offset)
        segments.append(_segment(head + extension[offset : offset + PIECE]))
    at = _behind_the_first_segments(jpeg)
    return b"".join((jpeg[:at], *segments, jpeg[at:]))


def checked(packet: bytes) -> None:
    """Look whether another reader of XMP takes a packet.

    Raises
    ------
    RuntimeError
        If it does not.
    """
    with pyexiv2.ImageData(_vehicle()) as image:
        image.modify_raw_xmp(packet.decode())


@lru_cache(maxsize=1)
def _vehicle() -> bytes:
    """Return a PNG of one pixel: a file whose XMP may have any size."""
    stream = BytesIO()
    Image.new("L", (1, 1)).save(stream, "PNG")
    return stream.getvalue()


def _segment(content: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, APP1, len(content) + 2) + content


def _behind_the_first_segments(jpeg: bytes) -> int:
    """Return where the segments APP0 (JFIF) and APP1 (Exif) that begin a JPEG end."""
    at = 2
    while jpeg[at] == 0xFF and jpeg[at + 1] in (0xE0, APP1):
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4])
    return at


def _parted(xmp: Xmp, length: int) -> tuple[bytes, bytes]:
    """Return the standard packet and the extension of *xmp* that takes *length* bytes, too many for one segment.

    The largest properties go into the extension first, those of rights last.
    """
    rights = travels("xmp", Policy.RIGHTS, keep_location=True, keep_serials=True)
    names = _Names(xmp.prefixes)
    sizes = {tag: len("".join(_text_of(element, names)).encode()) for tag, element in xmp.properties.items()}
    note = ET.Element(tag_of("xmpNote:HasExtendedXMP"))
    note.text = "0" * 32
    left = length + len(_written(Xmp(properties={note.tag: note})))
    moved: dict[str, ET.Element] = {}
    for tag in sorted(sizes, key=lambda tag: (rights(key_of(tag)), -sizes[tag])):
        if left <= MOST_STANDARD:
            break
        moved[tag] = xmp.properties[tag]
        left -= sizes[tag]
    extension = _written(Xmp(properties=moved, prefixes=xmp.prefixes), wrapped=False)
    note.text = hashlib.md5(extension, usedforsecurity=False).hexdigest().upper()
    stay = {note.tag: note} | {tag: element for tag, element in xmp.properties.items() if tag not in moved}
    return _written(Xmp(properties=stay, prefixes=xmp.prefixes)), extension


# Writing


class _Names:
    """What namespaces are called in a packet: known ones by their own prefixes, others as the original did."""

    def __init__(self, wanted: dict[str, str]) -> None:
        self._wanted = wanted
        self.used: dict[str, str] = {}
        """Prefixes by namespace."""

    def __call__(self, tag: str) -> str:
        address, _, local = tag.removeprefix("{").rpartition("}")
        if address not in self.used:
            self.used[address] = PREFIXES.get(address) or self._free(address)
        return f"{self.used[address]}:{local}"

    def _free(self, address: str) -> str:
        wanted = self._wanted.get(address, "")
        taken = {*PREFIXES.values(), *self.used.values()}
        is_right = NAME.fullmatch(wanted) and wanted not in taken and not wanted.lower().startswith("xml")
        return wanted if is_right else f"ns{len(self.used)}_"


def _written(xmp: Xmp, *, wrapped: bool = True) -> bytes:
    names = _Names(xmp.prefixes)
    properties = "".join(part for element in xmp.properties.values() for part in _text_of(element, names))
    declared = "".join(
        f' xmlns:{prefix}="{_quoted(address)}"'
        for address, prefix in names.used.items()
        if prefix not in ("rdf", "xml")
    )
    packet = (
        f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="{RDF}">'
        f'<rdf:Description rdf:about=""{declared}>{properties}</rdf:Description></rdf:RDF></x:xmpmeta>'
    )
    return (f"{HEAD}{packet}{TAIL}" if wrapped else packet).encode()


def _text_of(element: ET.Element, names: _Names) -> Iterator[str]:
    name = names(element.tag)
    attributes = "".join(f' {names(key)}="{_quoted(value)}"' for key, value in element.attrib.items())
    yield f"<{name}{attributes}>{_escaped(element.text or '')}"
    for child in element:
        yield from _text_of(child, names)
    yield f"</{name}>"


def _escaped(text: str) -> str:
    return html.escape(text, quote=False).replace("\r", "&#13;")


def _quoted(text: str) -> str:
    return re.sub(r"[\t\n\r]", lambda found: f"&#{ord(found[0])};", html.escape(text))
