"""What happens to made-up originals of Ida's, for tests of listeners."""

from __future__ import annotations

import os
from pathlib import Path

from lanternslide.records import DroppedFile, Fingerprint, OriginalFile, Record

__all__ = ["HOSTILE", "SHOWN", "file_of", "record"]

HOSTILE = os.fsdecode(b"caf\xe9\n\x1b[31m\xe2\x80\xae.jpg")
"""A name with bytes that are no text, a line end, a colour for terminals and a mark that turns writing."""

SHOWN = r"ida: caf\xe9\n\x1b[31m\u202e.jpg"
"""How a file of that name is shown."""


def file_of(name: str = "x.jpg") -> DroppedFile:
    """Return a file of 500 bytes."""
    fingerprint = Fingerprint(size=500, mtime_ns=0, inode=1)
    return DroppedFile(photographer="ida", drop=Path("drop"), relative=Path(name), fingerprint=fingerprint)


def record(destination: str, size: int, *doubts: str, original: str = "x.jpg") -> Record:
    """Return the record of a delivery."""
    return Record(
        original=original, photographer="ida", destination=destination, density=1, state="delivered",
        bytes=size, quality=90, doubts=doubts, version="0", original_file=OriginalFile(bytes=500),
    )  # fmt: skip
