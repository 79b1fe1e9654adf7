"""Small pictures and curves for a proof sheet."""

from __future__ import annotations

import cv2
import numpy as np
import simplejpeg

from lanternslide.imaging.colour.transfer import lightness_of_codes
from lanternslide.imaging.recompress import fitted
from lanternslide.imaging.types import Bytes8, Flags

__all__ = ["as_jpeg", "outside_map", "thumbnail", "tones"]

THUMBNAIL_EDGE = 320
TONES = 64
"""Bins of a curve of tones."""

TONE_PIXELS = 100_000
DARKEST, DIMMED = 56.0, 0.4
"""The grey beside colours that were out of gamut: a middle one, so that light and dark colours stand out; a choice."""


def thumbnail(codes: Bytes8) -> Bytes8:
    """Return a small version of sRGB codes (height, width, 3), averaged by area."""
    width, height = fitted(codes.shape[1], codes.shape[0], THUMBNAIL_EDGE)
    return np.asarray(cv2.resize(codes, (width, height), interpolation=cv2.INTER_AREA), np.uint8)


def outside_map(small: Bytes8, outside: Flags) -> Bytes8:
    """Return a thumbnail (height, width, 3) in middle grey, but in its own colours where they were *outside*.

    *outside* may have any size.
    """
    height, width = small.shape[:2]
    share = cv2.resize(outside.astype(np.float32), (width, height), interpolation=cv2.INTER_AREA)
    grey = DARKEST + small.mean(axis=2, keepdims=True) * DIMMED
    painted = np.where((share > 0)[..., None], small, grey)
    return np.rint(painted).astype(np.uint8)


def tones(codes: Bytes8) -> tuple[int, ...]:
    """Return how many of 10,000 pixels lie in each 64th of lightness, from black to white.

    Of sRGB codes (height, width, 3), on a fixed grid of at most 100,000 pixels.
    """
    step = max(1, int(np.ceil(np.sqrt(codes.shape[0] * codes.shape[1] / TONE_PIXELS))))
    L = lightness_of_codes(np.ascontiguousarray(codes[::step, ::step]))
    bins = np.minimum((L * (TONES / 100)).astype(np.int64), TONES - 1)
    counts = np.bincount(bins.ravel(), minlength=TONES)
    return tuple(int(count) for count in np.rint(counts * (10_000 / max(L.size, 1))))


def as_jpeg(codes: Bytes8, quality: int) -> bytes:
    """Return a plain JPEG of sRGB codes (height, width, 3), colour at full resolution."""
    return bytes(simplejpeg.encode_jpeg(np.ascontiguousarray(codes), quality, "RGB", "444"))
