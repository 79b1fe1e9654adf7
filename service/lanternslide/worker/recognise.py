"""Which of the files that stand is a delivery: by its bytes, or, where another version made it, by how it looks.

What only looks like a delivery must have been made by lanternslide: it carries the very profile that every delivery
carries. A photographer's own export of the same picture has another, and is never taken for ours.
"""

from __future__ import annotations

import io
import os
import stat
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import simplejpeg
from PIL import Image

from lanternslide.imaging.colour.srgb import srgb_profile
from lanternslide.imaging.encode import decode_again
from lanternslide.imaging.measuring.ssim import ssim
from lanternslide.imaging.types import Bytes8
from lanternslide.worker.original import flag

__all__ = ["ALIKE", "Recognised", "recognised"]

ALIKE = 0.98
"""SSIM of the whole from which a file is taken for the same picture, made by another version or with other settings."""

TILE, TILE_ALIKE, TILE_APART = 64, 0.85, 10.0
"""No tile of so many pixels may have less than this SSIM, or differ by more codes on average, all channels together: a
part that was blurred or painted over changes the whole by little. (This project's own; no source.)"""

MOST_LOOKED_AT = 20
"""So many files of the right size are decoded; more have a picture's name only where that is a date."""

MOST_BYTES = 64 * 2**20
"""A larger file is not read."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Recognised:
    """A file that is a delivery."""

    path: Path
    data: bytes  #: All of it.
    likeness: float | None  #: SSIM to what is made now; None: the very bytes.


def recognised(standing: Sequence[Path], jpeg: bytes) -> Recognised | None:
    """Return which of the files *standing* is the delivery *jpeg*; None if none is.

    Parameters
    ----------
    standing
        Files that may be it; what is gone, a link or no JPEG is passed over.
    jpeg
        The delivery as it is made now, the whole file.
    """
    for path in standing:
        if _read(path, size=len(jpeg)) == jpeg:
            return Recognised(path=path, data=jpeg, likeness=None)
    codes = decode_again(jpeg)
    best: Recognised | None = None
    best_likeness = ALIKE
    for path in standing[:MOST_LOOKED_AT]:
        data = _read(path)
        if data is None or _size(data) != codes.shape[:2] or _profile(data) != srgb_profile():
            continue
        likeness = _likeness(data, codes)
        if likeness >= best_likeness:
            best, best_likeness = Recognised(path=path, data=data, likeness=likeness), likeness
    return best


def _read(path: Path, *, size: int | None = None) -> bytes | None:
    """Return what a file holds, None if it is none, or not of this *size*."""
    try:
        descriptor = os.open(path, os.O_RDONLY | flag("O_NOFOLLOW") | flag("O_NONBLOCK") | flag("O_BINARY"))
    except OSError:
        return None
    try:
        status = os.fstat(descriptor)
        if not stat.S_ISREG(status.st_mode) or status.st_size > MOST_BYTES or size not in (None, status.st_size):
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


def _profile(data: bytes) -> bytes | None:
    """Return the colour profile that a JPEG carries."""
    try:
        with Image.open(io.BytesIO(data), formats=("JPEG",)) as image:
            found: bytes | None = image.info.get("icc_profile")
    except (OSError, ValueError, SyntaxError):
        return None
    return found


def _likeness(data: bytes, codes: Bytes8) -> float:
    """Return the SSIM of a JPEG to *codes* of its size; 0 where it cannot be told, or a part is another."""
    try:
        seen = decode_again(data)
    except ValueError:
        return 0.0
    found = ssim(codes, seen) or 0.0
    return found if found >= ALIKE and _all_tiles_alike(codes, seen) else 0.0


def _all_tiles_alike(codes: Bytes8, seen: Bytes8) -> bool:
    height, width = codes.shape[:2]
    for top in range(0, max(height - TILE // 2, 1), TILE):
        for left in range(0, max(width - TILE // 2, 1), TILE):
            tile = slice(top, top + TILE + TILE // 2), slice(left, left + TILE + TILE // 2)
            one, other = np.ascontiguousarray(codes[tile]), np.ascontiguousarray(seen[tile])
            apart = float(np.abs(one.astype(np.int16) - other).mean())
            likeness = ssim(one, other)
            if apart > TILE_APART or (likeness is not None and likeness < TILE_ALIKE):
                return False
    return True
