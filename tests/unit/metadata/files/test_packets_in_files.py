"""Finding metadata in files, and what is too long to be read."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path

import pytest

from lanternslide.metadata.files.containers import MOST
from lanternslide.metadata.files.packets_in_files import exif_blocks, packets_of, png_texts


def png(path: Path, kind: bytes, length: int) -> Path:
    """Write the head of a PNG with a chunk of a *length*, as a sparse file."""
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + struct.pack(">I", length) + kind)
    with path.open("r+b") as stream:
        stream.truncate(20 + length)
    return path


def webp(path: Path, kind: bytes, length: int) -> Path:
    """Write the head of a WebP with such a chunk."""
    path.write_bytes(b"RIFF" + struct.pack("<I", 12 + length) + b"WEBP" + kind + struct.pack("<I", length))
    with path.open("r+b") as stream:
        stream.truncate(20 + length)
    return path


@pytest.mark.parametrize(
    ("make", "kind", "read"),
    [
        (png, b"iTXt", packets_of), (png, b"tEXt", png_texts), (png, b"eXIf", exif_blocks),
        (webp, b"XMP ", packets_of), (webp, b"EXIF", exif_blocks),
    ],
)  # fmt: skip
def test_what_is_too_long_counts_as_unread(
    tmp_path: Path, make: Callable[[Path, bytes, int], Path], kind: bytes, read: Callable[[Path], object]
) -> None:
    """It is not skipped: nobody knows whom it names. A chunk of another kind may be as long as it likes."""
    with pytest.raises(ValueError, match="too long"):
        read(make(tmp_path / "x", kind, MOST + 1))
    assert not read(make(tmp_path / "x", b"some", MOST + 1))
