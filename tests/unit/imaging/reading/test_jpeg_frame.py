"""Kinds of JPEG by the header of the frame, byte by byte; and which of them are read."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest

from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.reading.jpeg_frame import frame_of, unread
from lanternslide.imaging.reading.read import read_bands, read_header
from lanternslide.words import Held
from tests.support.odd_files import framed_anew, lossless_jpeg, segment
from tests.support.pictures import landscape

CODES = np.asarray(landscape(48, 32))
WIDE = CODES.astype(np.uint16)


def usual_jpeg(**options: object) -> bytes:
    """Return a JPEG as everybody writes it."""
    stream = io.BytesIO()
    landscape(48, 32).save(stream, "JPEG", quality=90, **options)
    return stream.getvalue()


USUAL = usual_jpeg()
UNREAD = {
    "12 bits, in sequence": (framed_anew(USUAL, marker=0xC1, bits=12), "a JPEG with 12 bits a sample"),
    "12 bits, progressive": (
        framed_anew(usual_jpeg(progressive=True), bits=12), "a JPEG with 12 bits a sample",
    ),
    "lossless, 2 bits": (lossless_jpeg(WIDE >> 6, 2), "a lossless JPEG with 2 bits a sample"),
    "lossless, 12 bits": (lossless_jpeg(WIDE * 16, 12), "a lossless JPEG with 12 bits a sample"),
    "lossless, 16 bits": (lossless_jpeg(WIDE * 256, 16), "a lossless JPEG with 16 bits a sample"),
    "lossless, arithmetic": (lossless_jpeg(CODES, marker=0xCB), "a lossless JPEG in arithmetic coding"),
    "lossless, several sizes": (lossless_jpeg(CODES, marker=0xC7), "a JPEG of several sizes in one (hierarchical)"),
    "JPEG-LS": (framed_anew(USUAL, marker=0xF7), "a JPEG-LS"),
    "two channels": (framed_anew(USUAL, channels=2), "a JPEG with 2 channels"),
    "five channels": (framed_anew(USUAL, channels=5), "a JPEG with 5 channels"),
    "height at its end": (framed_anew(USUAL, height=0), "a JPEG that tells its height only at its end"),
    "several sizes": (
        USUAL[:2] + segment(0xDE, bytes((8, 0, 32, 0, 48, 1, 1, 0x11, 0))) + USUAL[2:],
        "a JPEG of several sizes in one (hierarchical)",
    ),
    **{
        f"marker {marker:X}": (framed_anew(USUAL, marker=marker), "a JPEG of several sizes in one (hierarchical)")
        for marker in (0xC5, 0xC6, 0xCD, 0xCE, 0xCF)
    },
}  # fmt: skip


@pytest.mark.parametrize("name", UNREAD)
def test_what_no_decoder_takes_is_held_with_its_kind(tmp_path: Path, name: str) -> None:
    """It is no damaged file, and its owner is told what it is."""
    original = tmp_path / "x.jpg"
    data, found = UNREAD[name]
    original.write_bytes(data)

    with pytest.raises(OriginalHeldError) as held:
        read_header(original)

    assert held.value.said.key == Held.UNREAD_KIND
    assert f"The picture is {found}, which" in held.value.said.text


@pytest.mark.parametrize("channels", [1, 3])
def test_lossless_jpegs_of_8_bits_are_read_exactly(tmp_path: Path, channels: int) -> None:
    """Decoders take them, so nothing is held."""
    original = tmp_path / "x.jpg"
    original.write_bytes(lossless_jpeg(CODES[..., :channels]))

    found = np.concatenate(list(read_bands(read_header(original), [])))

    assert (found == CODES[..., :channels]).all()


@pytest.mark.parametrize("name", ["JPEG", "progressive"])
def test_usual_jpegs_are_of_no_odd_kind(tmp_path: Path, name: str) -> None:
    """Also where fill bytes, comments and thumbnails stand before the frame."""
    original = tmp_path / "x.jpg"
    jpeg = usual_jpeg(progressive=name == "progressive")
    thumbnail = segment(0xE1, b"Exif\0\0" + framed_anew(USUAL, bits=12, marker=0xC1))
    original.write_bytes(jpeg[:2] + thumbnail + segment(0xFE, b"a seal") + b"\xff\xff\xff" + jpeg[2:])

    frame = frame_of(original)

    assert frame is not None
    assert (frame.bits, frame.channels, frame.height) == (8, 3, 32)
    assert unread(frame) is None


@pytest.mark.parametrize(
    "data",
    [
        b"", b"\xff\xd8", b"\xff\xd8\xff", b"\xff\xd8\xff\xff", b"\xff\xd8\xff\xe0", b"\xff\xd8\xff\xe0\0\x10JFIF",
        b"\xff\xd8\xff\xc1\0\x11\x0c\0", b"\xff\xd8\xff\xd9", b"\xff\xd8\xff\xda", b"\xff\xd8\xff\xd0\xff\x01\xff\xd9",
        b"\xff\xd8 not a marker", b"\xff\xd8\xff\xe0\0\0", framed_anew(USUAL, bits=72), framed_anew(USUAL, bits=0),
        framed_anew(USUAL, marker=0xC3, bits=17),
        USUAL[:2] + segment(0xC1, bytes((12, 0, 32, 0, 48, 3))) + b"\xff\xd9",
        USUAL[:2] + segment(0xC1, bytes((12, 0, 32, 0, 0, 1, 1, 0x11, 0))) + b"\xff\xd9",
        b"\xff\xd8" + segment(0xE0, b"") * 100_001 + USUAL[2:],
    ],
)  # fmt: skip
def test_what_makes_no_sense_is_no_kind(tmp_path: Path, data: bytes) -> None:
    """A damaged file is called damaged, and not a kind that it never was."""
    original = tmp_path / "x.jpg"
    original.write_bytes(data)

    assert frame_of(original) is None
