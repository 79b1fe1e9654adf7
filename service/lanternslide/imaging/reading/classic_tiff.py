"""The metadata of a BigTIFF as an ordinary TIFF without pixels: the library that reads Exif knows no other.

Sources: TIFF 6.0, section 2; Exif 3.0, 4.5.4 and 4.6.3. BigTIFF (from memory) has eight octets where TIFF has four for
offsets and counts of values, and where it has two for the count of entries.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

__all__ = ["Classic", "as_classic"]

ORDERS: Mapping[bytes, str] = {b"II": "<", b"MM": ">"}
VERSION, CLASSIC_VERSION, OFFSET_BYTES = 43, 42, 8
BEGIN = 8
"""Where the first directory stands in what is made."""

FARTHEST = 1 << 63
"""Files end before."""

WIDTHS: Mapping[int, int] = {
    1: 1,
    2: 1,
    3: 2,
    4: 4,
    5: 8,
    6: 1,
    7: 1,
    8: 2,
    9: 4,
    10: 8,
    11: 4,
    12: 8,
    13: 4,
    16: 8,
    17: 8,
    18: 8,
    129: 1,
}
"""Octets of a value by its type; 16 to 18 are BigTIFF's own, 129 is Exif 3.0's text."""

NARROW: Mapping[int, tuple[int, str, str]] = {16: (4, "Q", "I"), 17: (9, "q", "i"), 18: (4, "Q", "I")}
"""What BigTIFF's own types become: type, and how the values are written there and here."""

LONG = 4
POINTERS = frozenset({34665, 34853, 40965})
"""Where the directories of Exif, of the place and of interoperability stand."""

OF_PIXELS = frozenset({273, 279, 288, 289, 324, 325, 330, 347, 513, 514, 519, 520, 521})
"""Tags that say where pixels and further directories stand; they would lead nowhere (TIFF 6.0, sections 3, 15, 22)."""

NEVER_CARRIED = frozenset({34675, 37724})
"""The profile, and an editor's layers, which can be large (ICC.1:2010, B.4; from memory): neither is metadata."""

MAKER_NOTE = 37500
"""Its own offsets count from where it stood; nothing of it could be read."""

MOST_ENTRIES, MOST_BYTES, DEEPEST = 1000, 64 << 20, 3
"""Entries of all directories, octets of all values, and directories inside one another, that are read (a choice)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Classic:
    """An ordinary TIFF without pixels."""

    data: bytes
    lacks_maker_note: bool  #: Whether the original has one, which is left out.


@dataclass(frozen=True, kw_only=True, slots=True)
class _Entry:
    """A tag of a directory, as an ordinary TIFF has it."""

    tag: int
    kind: int
    count: int
    value: bytes  #: Empty where there is a directory.
    inside: tuple[_Entry, ...] = ()


class _DamagedError(Exception):
    """It is no sound BigTIFF."""


def as_classic(path: Path) -> Classic | None:
    """Return the metadata of a BigTIFF's first page; None of another file, or where they cannot be told.

    Raises
    ------
    OSError
        If the file cannot be opened.
    """
    with path.open("rb") as stream:
        head = stream.read(16)
        order = ORDERS.get(head[:2])
        if order is None or len(head) < 16 or struct.unpack(f"{order}HHH", head[2:8]) != (VERSION, OFFSET_BYTES, 0):
            return None
        (offset,) = struct.unpack(f"{order}Q", head[8:])
        try:
            entries = tuple(_entries(stream, order, offset, DEEPEST, _Budget()))
            data = head[:2] + struct.pack(f"{order}HI", CLASSIC_VERSION, BEGIN) + _written(entries, BEGIN, order)
        except (_DamagedError, struct.error, MemoryError):
            return None
    return Classic(data=data, lacks_maker_note=any(_has_maker_note(entry) for entry in entries))


def _has_maker_note(entry: _Entry) -> bool:
    return entry.tag == MAKER_NOTE or any(map(_has_maker_note, entry.inside))


@dataclass(slots=True)
class _Budget:
    """What may still be read of a file."""

    entries: int = MOST_ENTRIES
    octets: int = MOST_BYTES

    def take(self, entries: int, octets: int) -> None:
        self.entries -= entries
        self.octets -= octets
        if self.entries < 0 or self.octets < 0:
            raise _DamagedError


def _entries(stream: BinaryIO, order: str, offset: int, depth: int, budget: _Budget) -> Iterator[_Entry]:
    """Yield what a directory says, and the directories in it."""
    (count,) = struct.unpack(f"{order}Q", _read(stream, offset, 8))
    if count > MOST_ENTRIES or depth == 0:
        raise _DamagedError
    budget.take(count, 0)
    listed = _read(stream, offset + 8, count * 20)
    for at in range(0, len(listed), 20):
        tag, kind, number = struct.unpack_from(f"{order}HHQ", listed, at)
        if tag in OF_PIXELS | NEVER_CARRIED or kind not in WIDTHS:
            continue
        if tag == MAKER_NOTE:
            yield _Entry(tag=tag, kind=kind, count=0, value=b"")
            continue
        length = WIDTHS[kind] * number
        budget.take(0, length)
        (place,) = struct.unpack_from(f"{order}Q", listed, at + 12)
        value = listed[at + 12 : at + 12 + length] if length <= OFFSET_BYTES else _read(stream, place, length)
        if kind in NARROW:
            kind, value = _narrowed(order, kind, number, value)
        if tag in POINTERS:
            (place,) = struct.unpack(f"{order}I", value)
            inside = tuple(_entries(stream, order, place, depth - 1, budget))
            yield _Entry(tag=tag, kind=LONG, count=1, value=b"", inside=inside)
        else:
            yield _Entry(tag=tag, kind=kind, count=number, value=value)


def _read(stream: BinaryIO, offset: int, length: int) -> bytes:
    if offset >= FARTHEST:
        raise _DamagedError
    stream.seek(offset)
    found = stream.read(length)
    if len(found) < length:
        raise _DamagedError
    return found


def _narrowed(order: str, kind: int, number: int, value: bytes) -> tuple[int, bytes]:
    """Return values of one of BigTIFF's own types in one that every TIFF has."""
    narrow, wide_code, narrow_code = NARROW[kind]
    return narrow, struct.pack(f"{order}{number}{narrow_code}", *struct.unpack(f"{order}{number}{wide_code}", value))


def _written(entries: tuple[_Entry, ...], at: int, order: str) -> bytes:
    """Return a directory that stands *at* an offset, and behind it what does not fit into it."""
    entries = tuple(entry for entry in entries if entry.tag != MAKER_NOTE)
    table = struct.pack(f"{order}H", len(entries))
    behind = bytearray()
    begin = at + 2 + 12 * len(entries) + 4
    for entry in entries:
        place = begin + len(behind)
        value = _written(entry.inside, place, order) if entry.tag in POINTERS else entry.value
        is_short = len(value) <= 4 and entry.tag not in POINTERS
        table += struct.pack(f"{order}HHI", entry.tag, entry.kind, entry.count)
        table += value.ljust(4, b"\0") if is_short else struct.pack(f"{order}I", place)
        behind += b"" if is_short else value + bytes(len(value) % 2)
    return table + bytes(4) + bytes(behind)
