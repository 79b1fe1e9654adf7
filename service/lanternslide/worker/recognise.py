"""Which of the files that stand is a delivery: by its bytes, or, where another version made it, by how it looks."""

from __future__ import annotations

import os
import stat
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import simplejpeg

from lanternslide.imaging.encode import decode_again
from lanternslide.imaging.measuring.ssim import ssim
from lanternslide.imaging.types import Bytes8
from lanternslide.worker.original import flag

__all__ = ["ALIKE", "Recognised", "recognised"]

ALIKE = 0.98
"""SSIM from which a file is taken for the same picture, made by another version or with another quality."""

MOST_LOOKED_AT = 20
"""So many files of the right size are decoded; more have a picture's name only where that is a date."""

MOST_BYTES = 64 * 2**20
"""No delivery is larger."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Recognised:
    """A file that is a delivery."""

    path: Path
    data: bytes  #: All of it.
    likeness: float | None  #: SSIM to a new rendering; None: the very bytes.


def recognised(standing: Sequence[Path], jpeg: bytes, codes: Bytes8) -> Recognised | None:
    """Return which of the files *standing* is the delivery *jpeg*; None if none is.

    Parameters
    ----------
    standing
        Files that may be it; what is gone, a link or no JPEG is passed over.
    jpeg
        The delivery as it is made now, the whole file.
    codes
        Its pixels before they were compressed: sRGB codes, (height, width, 3), uint8.
    """
    alike: Recognised | None = None
    looked_at = 0
    for path in standing:
        data = _read(path)
        if data is None:
            continue
        if data == jpeg:
            return Recognised(path=path, data=data, likeness=None)
        if looked_at < MOST_LOOKED_AT and _size(data) == codes.shape[:2]:
            looked_at += 1
            likeness = _likeness(data, codes)
            if likeness >= ALIKE and (alike is None or alike.likeness is None or likeness > alike.likeness):
                alike = Recognised(path=path, data=data, likeness=likeness)
    return alike


def _read(path: Path) -> bytes | None:
    try:
        descriptor = os.open(path, os.O_RDONLY | flag("O_NOFOLLOW") | flag("O_NONBLOCK") | flag("O_BINARY"))
    except OSError:
        return None
    try:
        status = os.fstat(descriptor)
        if not stat.S_ISREG(status.st_mode) or status.st_size > MOST_BYTES:
            return None
        with os.fdopen(descriptor, "rb", closefd=False) as stream:
            return stream.read()
    except OSError:
        return None
    finally:
        os.close(descriptor)


def _size(data: bytes) -> tuple[int, int] | None:
    """Return height and width of a JPEG, from its header; None if it is none."""
    try:
        height, width, *_ = simplejpeg.decode_jpeg_header(data)
    except ValueError:
        return None
    return height, width


def _likeness(data: bytes, codes: Bytes8) -> float:
    """Return the SSIM of a JPEG to *codes* of its size; 0 where it cannot be told."""
    try:
        found = ssim(codes, decode_again(data))
    except ValueError:
        return 0.0
    return found or 0.0
