"""The array types of the generator and two small curves that every module uses."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

__all__ = ["Array", "Ink", "grid", "mix", "smoothstep", "window"]

Array = NDArray[np.float32]
"""Linear light, a coverage or a coordinate: float32 throughout."""

Ink = Callable[[float, float, float], Array]
"""Turns a linear colour under the primaries of sRGB (may be negative: outside) into (3,) of a picture's space."""


def smoothstep(low: float, high: float, value: Array) -> Array:
    """Return 0 below *low*, 1 above *high* and the cubic 3t² - 2t³ between; *low* may be the larger."""
    t = np.clip((value - np.float32(low)) / np.float32(high - low), 0, 1)
    return np.asarray(t * t * (3 - 2 * t), np.float32)


def mix(below: Array, above: Array, cover: Array) -> Array:
    """Lay *above* over *below*: colours (..., 3) or (3,), *cover* (h, w) or (h, 1) in 0…1."""
    return np.asarray(below + (above - below) * cover[..., None], np.float32)


def grid(width: int, height: int) -> tuple[Array, Array]:
    """Return pixel centres as x (1, w) and y (h, 1), in pixels from the left and the top."""
    x = np.arange(width, dtype=np.float32)[None, :] + np.float32(0.5)
    y = np.arange(height, dtype=np.float32)[:, None] + np.float32(0.5)
    return x, y


def window(rgb: Array, box: tuple[float, float, float, float]) -> tuple[Array, Array, Array]:
    """Return a view of *rgb* at *box* (left, top, right, bottom; cut to the picture), and its x and y."""
    height, width = rgb.shape[:2]
    x, y = grid(width, height)
    columns = slice(max(0, int(box[0])), max(0, int(box[2]) + 1))
    rows = slice(max(0, int(box[1])), max(0, int(box[3]) + 1))
    return rgb[rows, columns], x[:, columns], y[rows]
