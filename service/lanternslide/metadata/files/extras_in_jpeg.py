"""What a JPEG holds beside its picture: in its segments, as further pictures, and behind its end.

Only the segments' heads are read. The data of the scans are searched for their end, piece by piece.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from itertools import islice

from lanternslide.metadata.files.containers import EOI, SOS
from lanternslide.metadata.files.extra_kinds import Extra, PlacedFile
from lanternslide.metadata.xmp.namespaces import OF_PICTURES_AND_HISTORY
from lanternslide.metadata.xmp.packets import APP1, STANDARD

__all__ = ["SOI", "extras_in_jpeg"]

# Bounds, all of them choices.
MOST_PARTS = 10_000
"""Segments of a JPEG; 64 MB of XMP take 1,000."""

MOST_PARTS_OF_FURTHER, MOST_FURTHER = 1_000, 100
"""Segments of a further picture, and how many of these are looked at."""

FIRST_WINDOW, WINDOW = 1 << 16, 1 << 20
"""Bytes that are searched at a time: those behind the beginning of a scan, and further ones."""

MOST_BEHIND, MOST_TRIES = 256 << 20, 1_000
"""Bytes behind a JPEG that are searched for a video, and possible beginnings that are looked at in each window."""

SOI = b"\xff\xd8"
APP2, APP11 = 0xE2, 0xEB
FRAME_HEADERS = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
"""Markers of frame headers (ITU-T T.81, table B.1)."""

NEXT_MARKER = re.compile(rb"\xff[\xc4\xcc\xd9-\xdd\xe0-\xef\xfe]")
"""What can follow the data of a scan (T.81, B.1.1.2 and B.2.1): tables, a further scan, the number of lines, segments
for programs, a comment, or the end. In the data 0xFF stands before 0 or a restart marker alone (B.1.1.5)."""

ISO_GAIN_MAP = b"urn:iso:std:iso:ts:21496:-1\0"
"""How a segment APP2 begins that speaks of a gain map (ISO 21496-1, annex on JPEG; from memory, not checked)."""

GAIN_MAPS = tuple(
    address.encode() for address, prefix in OF_PICTURES_AND_HISTORY.items() if prefix in ("hdrgm", "HDRGainMap")
)
"""Namespaces that the XMP of a gain map itself uses."""

MULTI_PICTURE = b"MPF\0"
"""How a segment APP2 begins that lists the file's pictures (CIPA DC-007-2009, chapter 5)."""

ENTRIES_TAG, ENTRY_BYTES = 0xB002, 16
"""DC-007, 5.2.3.3: the list of pictures, and what one entry of it takes."""

TYPE_MASK, TYPE_UNDEFINED, LARGE_THUMBNAILS, TYPE_GAIN_MAP = 0xFFFFFF, 0, 0x01, 0x050000
"""DC-007, 5.2.3.3: the type of a picture; the upper 8 bits of those for large thumbnails; that of a gain map (a later
edition's; seen in other readers, not checked)."""

BYTE_ORDERS = {b"II*\0": "<", b"MM\0*": ">"}

IN_SEGMENT, BOX_AT = b"JP", 8
"""How a segment APP11 begins that holds a box, and where the box is: behind its instance and the number of the piece
(ISO/IEC 19566-5, D.2, and 18477-3; seen in other readers, not checked)."""

STORE_TYPE, STORE_LABEL = bytes.fromhex("63327061 0011 0010 8000 00AA00389B71"), b"c2pa\0"
"""The type and the label in the description of a store of manifests (C2PA 2.1, 11.1.4)."""

HEAD_BYTES = 80
"""What is read of a segment: more than the longest beginning that is looked for."""


def extras_in_jpeg(file: PlacedFile) -> Iterator[Extra]:
    """Yield what a JPEG holds in its segments, and behind its end."""
    index = 0, 0
    side = 0
    for marker, place, length in _parts(file, 0):
        head = file.at(place, min(length, HEAD_BYTES)) if marker in (APP2, APP11) else b""
        if marker == APP11 and _is_store(head):
            yield Extra.CREDENTIALS
        elif head.startswith(ISO_GAIN_MAP):
            yield Extra.GAIN_MAP
        elif head.startswith(MULTI_PICTURE):
            index = place + len(MULTI_PICTURE), length - len(MULTI_PICTURE)
        elif marker in FRAME_HEADERS:
            side = _longer_side(file, place)
        elif marker == EOI:
            yield from _behind(file, place)
    yield from _further_pictures(file, index, side)


def _parts(file: PlacedFile, place: int) -> Iterator[tuple[int, int, int]]:
    """Yield the segments of the JPEG at a *place*, to its end: marker, place and length of what it holds."""
    if file.at(place, 2) != SOI:
        return
    place += 2
    for _ in range(MOST_PARTS):
        head = file.at(place, 4)
        if head[:2] == b"\xff\xff":  # a fill byte (T.81, B.1.1.2)
            place += 1
            continue
        if head[:1] != b"\xff":
            return
        if head[1:2] == bytes([EOI]):
            yield EOI, place + 2, 0
            return
        length = int.from_bytes(head[2:]) - 2
        if len(head) < 4 or length < 0:
            return
        yield head[1], place + 4, length
        place += 4 + length
        if head[1] == SOS:
            place = _behind_scan(file, place)


def _behind_scan(file: PlacedFile, place: int) -> int:
    """Return where the marker behind the data of a scan is, or the end of the file."""
    window = FIRST_WINDOW
    while len(data := file.at(place, window)) > 1:
        if found := NEXT_MARKER.search(data):
            return place + found.start()
        place += len(data) - 1  # a marker can lie across the windows
        window = WINDOW
    return file.size


def _is_store(head: bytes) -> bool:
    """Return whether a segment APP11 begins a store of manifests: a box "jumb", in which a box "jumd" says so."""
    box = head[BOX_AT:]
    description = box[16 if box[:4] == b"\0\0\0\1" else 8 :]  # 1: the length is behind (15444-1, I.4)
    if head[:2] != IN_SEGMENT or box[4:8] != b"jumb" or description[4:8] != b"jumd":
        return False
    return description[8:24] == STORE_TYPE or description[25:].startswith(STORE_LABEL)


def _longer_side(file: PlacedFile, place: int) -> int:
    """Return the longer side of a picture by its frame header: precision, lines, samples per line (T.81, B.2.2)."""
    content = file.at(place, 5)
    return max(int.from_bytes(content[1:3]), int.from_bytes(content[3:5]))


# Further pictures in a JPEG


def _further_pictures(file: PlacedFile, index: tuple[int, int], side: int) -> Iterator[Extra]:
    """Yield what the pictures are that an *index* names, beside the first, whose longer *side* is given."""
    for kind, place in _entries(file, *index):
        if file.at(place, 2) != SOI:
            continue
        is_gain_map, further_side = _look_at(file, place)
        if is_gain_map or kind == TYPE_GAIN_MAP:
            yield Extra.GAIN_MAP
        elif kind >> 16 != LARGE_THUMBNAILS and (kind != TYPE_UNDEFINED or 2 * further_side > side):
            # A small one that is said to be nothing in particular is a preview, as a small page of a TIFF is.
            yield Extra.VIEWS


def _entries(file: PlacedFile, place: int, length: int) -> Iterator[tuple[int, int]]:
    """Yield the types and places of the pictures that the index at a *place* names, but for the first.

    The index is laid out as a TIFF, from where its places count (DC-007, 5.2).
    """
    data = file.at(place, length)
    order = BYTE_ORDERS.get(data[:4])
    if order is None:
        return
    try:
        directory = struct.unpack_from(f"{order}I", data, 4)[0]
        for number in range(struct.unpack_from(f"{order}H", data, directory)[0]):
            tag, _, amount, entries = struct.unpack_from(f"{order}HHII", data, directory + 2 + 12 * number)
            if tag == ENTRIES_TAG:
                break
        else:
            return
        for number in range(1, min(amount // ENTRY_BYTES, MOST_FURTHER + 1)):
            attribute, _, offset = struct.unpack_from(f"{order}III", data, entries + ENTRY_BYTES * number)
            yield attribute & TYPE_MASK, place + offset
    except struct.error:
        return


def _look_at(file: PlacedFile, place: int) -> tuple[bool, int]:
    """Return whether the picture at a *place* calls itself a gain map, and its longer side."""
    is_gain_map = False
    side = 0
    for marker, at, length in islice(_parts(file, place), MOST_PARTS_OF_FURTHER):
        if marker == SOS:
            break
        if marker in FRAME_HEADERS:
            side = _longer_side(file, at)
        elif marker == APP2:
            is_gain_map |= file.at(at, min(length, HEAD_BYTES)).startswith(ISO_GAIN_MAP)
        elif marker == APP1 and file.at(at, min(length, HEAD_BYTES)).startswith(STANDARD):
            packet = file.at(at, length)
            if any(address in packet for address in GAIN_MAPS):
                return True, side
    return is_gain_map, side


# Behind a JPEG

AROUND = 32
"""Bytes of one window that are looked at again with the next: more than both looks below take."""

FILE_TYPE, MOVIE, MOVIE_HEADER = b"ftyp", b"moov", b"mvhd"
"""Boxes: how a file begins (ISO/IEC 14496-12, 4.3), or how the directory of one without that begins: "moov", and in it
first "mvhd" (8.2.1 and 8.2.2; QuickTime File Format, movie atoms)."""

MOVIE_HEADER_BYTES = frozenset({108, 120})
"""Lengths of "mvhd" with times of 32 and of 64 bits (ISO/IEC 14496-12, 8.2.2; from memory, not checked)."""

SHORTEST_FILE_TYPE, LONGEST_FILE_TYPE = 16, 4096
"""Lengths of "ftyp" (ISO/IEC 14496-12, 4.3): with no compatible brand; the longest is a choice."""

STILLS = frozenset({b"heic", b"heix", b"heim", b"heis", b"mif1", b"mif2", b"avif"})
SOUNDS = frozenset({b"M4A ", b"M4B ", b"M4P "})
"""Brands of files without a video (ISO/IEC 23008-12, annex B; AVIF 1.1; registered ones; from memory, not checked)."""


def _behind(file: PlacedFile, place: int) -> Iterator[Extra]:
    """Yield whether a video, or a sound, is behind the JPEG that ends at a *place*."""
    end = min(file.size, place + MOST_BEHIND)
    while place < end:
        data = file.at(place, min(WINDOW, end - place))
        for needle, kind_of in ((FILE_TYPE, _kind_of_file), (MOVIE_HEADER, _kind_of_movie)):
            yield from (kind for at in _found(data, needle) if (kind := kind_of(data, at)))
        if len(data) <= AROUND:
            return
        place += len(data) - (AROUND if place + len(data) < end else 0)


def _found(data: bytes, needle: bytes) -> Iterator[int]:
    at = -1
    for _ in range(MOST_TRIES):
        at = data.find(needle, at + 1)
        if at < 0:
            return
        yield at


def _kind_of_file(data: bytes, at: int) -> Extra | None:
    """Return what begins with the "ftyp" at *at*: 4 bytes of length before it, the main brand behind it."""
    length, brand = int.from_bytes(data[max(at - 4, 0) : at]), data[at + 4 : at + 8]
    if at < 4 or length % 4 or not SHORTEST_FILE_TYPE <= length <= LONGEST_FILE_TYPE:
        return None
    if len(brand) < 4 or not all(0x20 <= letter < 0x7F for letter in brand) or brand in STILLS:
        return None
    return Extra.SOUND if brand in SOUNDS else Extra.VIDEO


def _kind_of_movie(data: bytes, at: int) -> Extra | None:
    """Return what the "mvhd" at *at* belongs to: before it are its length, and "moov"."""
    is_first = at >= 12 and data[at - 8 : at - 4] == MOVIE
    return Extra.VIDEO if is_first and int.from_bytes(data[at - 4 : at]) in MOVIE_HEADER_BYTES else None
