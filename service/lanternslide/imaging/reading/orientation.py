"""Turning planes upright (Exif 3.0, tag 0x0112 Orientation)."""

from __future__ import annotations

import numpy as np

from lanternslide.imaging.types import Array32

__all__ = ["upright"]


def upright(planes: Array32, orientation: int) -> Array32:
    """Return *planes* (..., height, width) as they are meant to be seen; an unknown value changes nothing.

    The tag says where the stored first row and column belong: 3 is turned by 180°, 6 must be turned clockwise by
    90°, 8 counter-clockwise; 2, 4, 5 and 7 are mirrored as well.
    """
    if orientation in (5, 6, 7, 8):
        planes = planes.swapaxes(-1, -2)
    # After the transposition 6 still needs a horizontal flip, 8 a vertical one, 7 both, 5 none.
    if orientation in (2, 3, 6, 7):
        planes = planes[..., ::-1]
    if orientation in (3, 4, 7, 8):
        planes = planes[..., ::-1, :]
    return np.ascontiguousarray(planes)
