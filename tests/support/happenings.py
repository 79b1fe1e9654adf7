"""What happens to made-up originals of Ida's, for tests of listeners."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from lanternslide.records import DroppedFile, Fingerprint, OriginalFile, Record
from lanternslide.records.record import Clipped, ForecastFigures, Halo, Spread

__all__ = ["HOSTILE", "SHOWN", "file_of", "record", "whole_record"]

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


def whole_record(**more: Any) -> Record:
    """Return a record of which everything is known."""
    known: dict[str, Any] = {
        "original": "a.jpg", "photographer": "ida", "destination": "club", "density": 2, "state": "delivered",
        "output": "/out/a.jpg", "digest": "d", "width": 3, "height": 2, "bytes": 9, "quality": 90,
        "quality_by": "config", "chroma": "4:4:4", "strength": 1e-7, "rungs": (6, 3), "ssim": 0.98, "acutance": 1.35,
        "original_file": OriginalFile(width=9, height=6, bits=8, profile="sRGB", bytes=99, digest="o"),
        "delta_e": Spread(mean=0.1, p99=1e22), "halo": Halo(light=1, dark=2), "tone_shift": Spread(mean=-0.1, p99=1),
        "out_of_gamut": 0, "clipped": Clipped(shadows=0, highlights=1), "forecast": ForecastFigures(ssim=0.9, bytes=5),
        "doubts": ("Small.", "Odd."), "seconds": 1.5, "peak_mib": 170.0, "plan": 4, "version": "0.1.0",
    }  # fmt: skip
    return Record(**{**known, **more})
