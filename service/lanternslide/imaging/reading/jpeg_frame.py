"""What kind of JPEG a file is, by the header of its frame: some kinds are sound, and no decoder here takes them.

Source: ITU-T T.81, B.1.1.3 (table B.1), B.2.2 and B.3.2; ITU-T T.87, C.1.1 (from memory).
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from lanternslide.words import counted

__all__ = ["Frame", "frame_of", "unread"]

SOF = {*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC}
"""Markers of a frame; three in between define tables, or are reserved."""

LOSSLESS = {0xC3, 0xC7, 0xCB, 0xCF}
SEVERAL_FRAMES, JPEG_LS = 0xDE, 0xF7
UNREAD: Mapping[int, str] = {
    0xCB: "a lossless JPEG in arithmetic coding",
    JPEG_LS: "a JPEG-LS",
    **dict.fromkeys(
        (0xC5, 0xC6, 0xC7, 0xCD, 0xCE, 0xCF, SEVERAL_FRAMES), "a JPEG of several sizes in one (hierarchical)"
    ),
}
"""Kinds that no decoder takes (found by trying, libjpeg-turbo 3.1 and 3.2); lossless ones and arithmetic coding alone
are taken."""

END, PIXELS, TEMPORARY = 0xD9, 0xDA, 0x01
WITHOUT_LENGTH = {TEMPORARY, *range(0xD0, 0xD9)}
BITS = {False: (8, 12), True: range(2, 17)}
"""Bits of a sample, by whether the picture is lossless (table B.2)."""

HEAD_BYTES, CHANNEL_BYTES = 8, 3
"""Of a frame's header."""

READ_BITS, READ_CHANNELS = 8, (1, 3, 4)

MOST_SEGMENTS = 100_000
"""Segments that are looked at; more of them are no accident (a choice)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Frame:
    """The header of a frame."""

    marker: int  #: Its second byte.
    bits: int  #: Of a sample.
    height: int  #: 0 where it stands behind the pixels.
    channels: int


def frame_of(path: Path) -> Frame | None:
    """Return the header of a JPEG's first frame; None where there is none before the pixels, or it makes no sense.

    Raises
    ------
    OSError
        If the file cannot be opened.
    """
    with path.open("rb") as stream:
        try:
            return _frame_in(stream)
        except struct.error:  # it ends within a segment
            return None


def _frame_in(stream: BinaryIO) -> Frame | None:
    stream.seek(2)
    for _ in range(MOST_SEGMENTS):
        marker = _marker(stream)
        if marker in (None, END, PIXELS):
            return None
        if marker in WITHOUT_LENGTH:
            continue
        (length,) = struct.unpack(">H", stream.read(2))
        if marker in SOF or marker in (SEVERAL_FRAMES, JPEG_LS):
            bits, height, width, channels = struct.unpack(">BHHB", stream.read(6))
            is_sound = length == HEAD_BYTES + CHANNEL_BYTES * channels and bits in BITS[marker in LOSSLESS | {JPEG_LS}]
            return Frame(marker=marker, bits=bits, height=height, channels=channels) if is_sound and width else None
        stream.seek(length - 2, 1)
    return None


def _marker(stream: BinaryIO) -> int | None:
    """Return the next marker, behind fill bytes (B.1.1.2); None where there is none."""
    if stream.read(1) != b"\xff":
        return None
    while (found := stream.read(1)) == b"\xff":
        pass
    return found[0] if found else None


def unread(frame: Frame) -> str | None:
    """Return what a sound JPEG of this kind is, for a person, if no decoder takes it; None if one does."""
    if frame.marker in UNREAD:
        return UNREAD[frame.marker]
    kind = "a lossless JPEG" if frame.marker in LOSSLESS else "a JPEG"
    if frame.bits != READ_BITS:
        return f"{kind} with {counted(frame.bits, 'bit', 'bits')} a sample"
    if frame.channels not in READ_CHANNELS:
        return f"{kind} with {counted(frame.channels, 'channel', 'channels')}"
    if frame.height == 0:
        return f"{kind} that tells its height only at its end"
    return None
