"""Image resource blocks: where IPTC IIM stands in a file, with the mark and the address of a copyright.

Sources: XMP specification part 3 (2020), 1.1.2 (APP13 segments of JPEG, which may continue one another), 1.1.5
(TIFF tags 33723 and 34377), and table 14 (which blocks mean which properties of XMP). PNG has no place for
them; programs write them as hexadecimal text below "Raw profile type …" (common practice, no source).
"""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from lanternslide.metadata.data import is_path
from lanternslide.metadata.files.containers import PNG, TIFF, raw_profiles, segments, tiff_tag
from lanternslide.metadata.letters import codec_of, read

__all__ = ["LONGEST_IIM", "Resources", "resources_of", "with_iim"]

APP13, SIGNATURE = 0xED, b"Photoshop 3.0\0"
BLOCKS = (b"8BIM", b"MeSa", b"PHUT", b"AgHg", b"DCSR")
"""How blocks begin (from memory; the first is the usual one)."""

MARK = b"\x1c"
IIM, MARKED, ADDRESS, DIGEST, DIGEST_BYTES = 0x0404, 0x040A, 0x040B, 0x0425, 16
IIM_TAG, BLOCKS_TAG = 33723, 34377
LONGEST_IIM = 65_533 - len(SIGNATURE) - 12
"""Bytes of IIM that a JPEG segment has room for: it holds 65,533 (ITU-T T.81, B.1.1.4), with a signature and a head."""

RAW = frozenset({f"raw profile type {name}" for name in ("iptc", "8bim", "app13")})


@dataclass(frozen=True, kw_only=True, slots=True)
class Resources:
    """What the blocks of a file say."""

    iim: tuple[bytes, ...] = ()  #: Blocks of data sets.
    is_marked: bool = False  #: Whether they say that the picture is protected.
    address: str | None = None  #: Where its copyright is explained.
    iim_is_newer: bool = False  #: Whether IIM was changed after XMP, by the digest that was noted when they agreed.
    fault: str | None = None  #: What is damaged, for a person.


def resources_of(path: Path) -> Resources:
    """Return what all image resource blocks of a file say, and the IIM that stands outside of them.

    Raises
    ------
    OSError
        If the file cannot be read.
    """
    iim: list[bytes] = []
    fault: str | None = None
    with path.open("rb") as stream:
        head = stream.read(8)
        if head.startswith(TIFF):
            blocks = _in_tiff(path, iim)
        elif head.startswith(PNG):
            profiles, fault = _profiles(stream)
            blocks = b"".join(data.removeprefix(SIGNATURE) for data in profiles)
            if blocks[:1] == MARK:  # IIM without a block around it
                iim, blocks = [blocks], b""
        else:
            found = segments(stream, APP13)
            blocks = b"".join(data[len(SIGNATURE) :] for data in found if data.startswith(SIGNATURE))
    said = list(_blocks(blocks))
    if said and said[-1] is None:
        fault = "its image resource blocks are damaged"
    named = [block for block in said if block is not None]
    iim = [*(data for number, data in named if number == IIM), *iim]
    addresses = [data for number, data in named if number == ADDRESS and data.strip(b"\0 ")]
    return Resources(
        iim=tuple(dict.fromkeys(whole for block in iim if (whole := block.rstrip(b"\0")))),
        is_marked=any(data.strip(b"\0") for number, data in named if number == MARKED),
        address=_address(addresses[0]) if addresses else None,
        iim_is_newer=_has_changed(named),
        fault=fault,
    )


def _profiles(stream: BinaryIO) -> tuple[list[bytes], str | None]:
    """Return the raw profiles of a PNG that are whole, and what is wrong with another."""
    found: list[bytes] = []
    try:
        found.extend(data for _, data in raw_profiles(stream, RAW))
    except ValueError as error:
        return found, str(error)
    return found, None


def _address(data: bytes) -> str | None:
    """Return an address; None where nobody can tell its letters, or it is one of a computer's own."""
    octets = data.strip(b"\0 ")
    text = read(octets, codec_of([octets]))
    return None if text is None or is_path(text) else text


def _has_changed(named: list[tuple[int, bytes]]) -> bool:
    """Return whether the first block of IIM has another digest than the one beside it (MWG 2.0, 3.3.1: MD5)."""
    digests = [data for number, data in named if number == DIGEST and len(data) == DIGEST_BYTES and any(data)]
    blocks = [data for number, data in named if number == IIM]
    return bool(digests and blocks) and hashlib.md5(blocks[0], usedforsecurity=False).digest() != digests[0]


def _in_tiff(path: Path, iim: list[bytes]) -> bytes:
    found = tiff_tag(path, IIM_TAG)
    if found[3:4] == MARK != found[:1]:  # typed as numbers of four octets, and turned with them
        found = b"".join(found[at : at + 4][::-1] for at in range(0, len(found), 4))
    if found:
        iim.append(found)
    return tiff_tag(path, BLOCKS_TAG)


def _blocks(data: bytes) -> Iterator[tuple[int, bytes] | None]:
    """Yield the number and content of each block; None at the end where something is damaged."""
    at = 0
    while at + 12 <= len(data):
        if data[at : at + 4] not in BLOCKS:
            following = data.find(BLOCKS[0], at)
            if following < 0:
                break
            at = following
            if at + 12 > len(data):
                break
        number, name_length = int.from_bytes(data[at + 4 : at + 6]), data[at + 6]
        behind = at + 6 + (name_length + 2) // 2 * 2
        length = int.from_bytes(data[behind : behind + 4])
        content = data[behind + 4 : behind + 4 + length]
        if len(content) < length:
            yield None
            return
        yield number, content
        at = behind + 4 + (length + 1) // 2 * 2
    if data[at:].strip(b"\0"):
        yield None


def with_iim(jpeg: bytes, iim: bytes) -> bytes:
    """Return *jpeg* (without image resource blocks) with *iim*, at most `LONGEST_IIM` bytes, in one."""
    block = BLOCKS[0] + struct.pack(">HHI", IIM, 0, len(iim)) + iim + b"\0" * (len(iim) % 2)
    content = SIGNATURE + block
    at = 2
    while jpeg[at] == 0xFF and jpeg[at + 1] in (0xE0, 0xE1):
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4])
    return jpeg[:at] + struct.pack(">BBH", 0xFF, APP13, len(content) + 2) + content + jpeg[at:]
