"""Encoding a finished rendering as JPEG, and decoding it again to see what is left."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache

import numpy as np
import simplejpeg
from PIL import Image, ImageFile

from lanternslide.imaging.colour.srgb import srgb_profile
from lanternslide.imaging.types import Bytes8

__all__ = ["decode_again", "encode_jpeg"]

FILE_BYTES, PIXEL_BYTES = 65_536, 4
SUBSAMPLING = {"4:4:4": 0, "4:2:2": 1, "4:2:0": 2}


@lru_cache(maxsize=1)
def _profile() -> bytes:
    return srgb_profile()


def encode_jpeg(
    codes: Bytes8, *, quality: int, chroma: str, progressive: bool, density: tuple[int, int] | None
) -> bytes:
    """Return a JPEG (ITU-T T.81, JFIF) of sRGB codes with the sRGB profile embedded.

    Parameters
    ----------
    codes
        Shape (height, width, 3), uint8.
    quality
        1 to 100 on the scale of the IJG (50: the tables of T.81 Annex K).
    chroma
        ``4:4:4``, ``4:2:2`` or ``4:2:0``.
    progressive
        Whether it builds up over the whole frame.
    density
        Dots per inch across and down, kept as plain data; it never changes a pixel.
    """
    stream = io.BytesIO()
    with _room_for(codes):
        Image.fromarray(codes).save(
            stream, "JPEG",
            quality=quality, subsampling=SUBSAMPLING[chroma], optimize=True, progressive=progressive,
            icc_profile=_profile(), **({"dpi": density} if density else {}),
        )  # fmt: skip
    return stream.getvalue()


@contextmanager
def _room_for(codes: Bytes8) -> Iterator[None]:
    """Give Pillow a buffer for the whole file, which optimising needs: its own guess can be too small.

    Noise of black and white in each channel at quality 100 takes 3.3 bytes for each pixel.
    """
    usual = ImageFile.MAXBLOCK
    ImageFile.MAXBLOCK = max(usual, FILE_BYTES + PIXEL_BYTES * codes.shape[0] * codes.shape[1])
    try:
        yield
    finally:
        ImageFile.MAXBLOCK = usual


def decode_again(jpeg: bytes) -> Bytes8:
    """Return what a viewer sees of a JPEG of ours: sRGB codes, shape (height, width, 3)."""
    codes: Bytes8 = np.asarray(simplejpeg.decode_jpeg(jpeg, colorspace="RGB"), np.uint8)
    return codes
