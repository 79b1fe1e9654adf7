"""What a destination's operator makes of an upload: sized and compressed again."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from lanternslide.imaging.colour.transfer import srgb_codes, srgb_decode
from lanternslide.imaging.encode import SUBSAMPLING
from lanternslide.imaging.kernels import cubic_weights
from lanternslide.imaging.resample import resize
from lanternslide.imaging.types import Array32, Bytes8

__all__ = ["fitted", "recompressed", "sized"]


def recompressed(jpeg: bytes, long_edge: int, quality: int, chroma: str) -> bytes:
    """Return a JPEG as an operator leaves it: no longer than *long_edge* pixels, compressed at *quality*.

    Sized by Lanczos' kernel on encoded values and stored as a baseline JPEG without metadata, as web servers do with
    general-purpose libraries (common practice, no source). What is smaller keeps its size.
    """
    stream = io.BytesIO()
    with Image.open(io.BytesIO(jpeg)) as image:
        size = fitted(image.width, image.height, long_edge)
        small = image if size == image.size else image.resize(size, Image.Resampling.LANCZOS)
        small.save(stream, "JPEG", quality=quality, subsampling=SUBSAMPLING[chroma])
    return stream.getvalue()


def fitted(width: int, height: int, long_edge: int) -> tuple[int, int]:
    """Return the size within *long_edge* that keeps the proportions; never a larger one."""
    longest = max(width, height)
    if longest <= long_edge:
        return width, height
    return max(round(width * long_edge / longest), 1), max(round(height * long_edge / longest), 1)


def sized(codes: Bytes8, width: int, height: int) -> Bytes8:
    """Return sRGB codes (height, width, 3) at another, not larger size, resized in linear light by the cubic."""
    if codes.shape[:2] == (height, width):
        return codes
    linear: Array32 = _LINEAR[codes].transpose(2, 0, 1)
    planes = resize(np.ascontiguousarray(linear), (height, width), cubic_weights)
    return srgb_codes(np.clip(planes, 0, 1))


_LINEAR: Array32 = srgb_decode(np.arange(256) / 255).astype(np.float32)
