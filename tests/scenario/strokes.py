"""Thin anti-aliased lines and filled outlines, as coverages 0…1: what is laid in linear light."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from tests.scenario.arrays import Array

__all__ = ["Line", "band", "draw", "sagging"]

PIECE = 48.0
"""Longest piece of a line that is drawn at once, in pixels: its box stays small."""


class Line(NamedTuple):
    """A straight line in pixels; its width may be below one pixel, and may taper."""

    x0: float
    y0: float
    x1: float
    y1: float
    w0: float
    w1: float


def draw(cover: Array, lines: Iterable[Line]) -> None:
    """Draw *lines* into *cover* (h, w) in place; where they cross, the larger coverage stays."""
    for line in lines:
        pieces = max(1, math.ceil(math.hypot(line.x1 - line.x0, line.y1 - line.y0) / PIECE))
        for i in range(pieces):
            _draw_piece(cover, _part(line, i / pieces, (i + 1) / pieces))


def _part(line: Line, start: float, end: float) -> Line:
    x0, y0, x1, y1, w0, w1 = line
    return Line(
        x0 + (x1 - x0) * start, y0 + (y1 - y0) * start, x0 + (x1 - x0) * end, y0 + (y1 - y0) * end,
        w0 + (w1 - w0) * start, w0 + (w1 - w0) * end,
    )  # fmt: skip


def _draw_piece(cover: Array, line: Line) -> None:
    """Draw one piece: coverage falls from 1 to 0 over one pixel, centred on the line's edge."""
    height, width = cover.shape
    reach = max(line.w0, line.w1) / 2 + 1
    left = max(0, math.floor(min(line.x0, line.x1) - reach))
    right = min(width, math.ceil(max(line.x0, line.x1) + reach))
    top = max(0, math.floor(min(line.y0, line.y1) - reach))
    bottom = min(height, math.ceil(max(line.y0, line.y1) + reach))
    if left >= right or top >= bottom:
        return
    x = np.arange(left, right, dtype=np.float32)[None, :] + np.float32(0.5 - line.x0)
    y = np.arange(top, bottom, dtype=np.float32)[:, None] + np.float32(0.5 - line.y0)
    dx, dy = line.x1 - line.x0, line.y1 - line.y0
    t = np.clip((x * np.float32(dx) + y * np.float32(dy)) / np.float32(max(dx * dx + dy * dy, 1e-6)), 0, 1)
    distance = np.hypot(x - t * np.float32(dx), y - t * np.float32(dy))
    w = np.float32(line.w0) + t * np.float32(line.w1 - line.w0)
    # A line thinner than a pixel covers that part of it, spread over the pixel's width.
    amount = np.clip(np.maximum(w, 1) / 2 + np.float32(0.5) - distance, 0, 1) * np.minimum(w, 1)
    box = cover[top:bottom, left:right]
    np.maximum(box, amount, out=box)


def sagging(line: Line, sag: float, pieces: int = 24) -> list[Line]:
    """Return a cable between the ends of *line* that hangs *sag* pixels lower at its middle.

    A parabola stands for the catenary: at such small sags they differ by less than a pixel.
    """
    t = np.linspace(0.0, 1.0, pieces + 1)
    x = line.x0 + (line.x1 - line.x0) * t
    y = line.y0 + (line.y1 - line.y0) * t + 4 * sag * t * (1 - t)
    w = line.w0 + (line.w1 - line.w0) * t
    return [Line(*(float(v) for v in (x[i], y[i], x[i + 1], y[i + 1], w[i], w[i + 1]))) for i in range(pieces)]


def band(y: Array, top: Array | float, bottom: Array | float) -> Array:
    """Return the coverage of what lies between the edges *top* and *bottom*, given per column, in pixels.

    *y* (h, 1) are pixel centres; the edges are (1, w), (w,) or plain numbers.
    """
    above = np.clip(y - np.asarray(top, np.float32) + np.float32(0.5), 0, 1)
    below = np.clip(np.asarray(bottom, np.float32) - y + np.float32(0.5), 0, 1)
    return np.asarray(np.minimum(above, below), np.float32)
