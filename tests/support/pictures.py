"""Small and large originals for tests, generated, with a profile."""

from __future__ import annotations

import io
from functools import lru_cache
from pathlib import Path

import numpy as np
from PIL import Image

from lanternslide.imaging.colour.srgb import srgb_profile

__all__ = ["landscape", "save_jpeg", "size_of"]


def landscape(width: int, height: int, seed: int = 1) -> Image.Image:
    """Return a picture with a smooth sky, fine lines and grain."""
    random = np.random.default_rng(seed)
    y = np.linspace(0, 1, height)[:, None]
    x = np.linspace(0, 1, width)[None, :]
    sky = (90 + 120 * y, 120 + 90 * y + 20 * x, 190 - 30 * y)
    lines = ((x * width * 0.9 + y * height * 0.1).astype(np.int64) % 41 < 2) & (y > 0.5)
    grain = random.integers(-3, 4, (height, width, 1))[..., 0].astype(np.int8).view(np.uint8)
    pixels = np.empty((height, width, 3), np.uint8)
    for channel, shade in enumerate(sky):
        # No sum leaves 0 to 255; the grain is added modulo 256, so a negative one is subtracted.
        pixels[..., channel] = np.where(lines, 30, shade.astype(np.uint8)).astype(np.uint8) + grain
    return Image.fromarray(pixels)


def save_jpeg(
    path: Path, width: int, height: int, *, seed: int = 1, orientation: int = 1, dpi: int | None = None
) -> Path:
    """Write a JPEG of `landscape` with the sRGB profile; the name appears at once and whole."""
    temporary = path.with_name(f".{path.name}.part")
    temporary.write_bytes(_jpeg(width, height, seed, orientation, dpi))
    temporary.rename(path)
    return path


@lru_cache(maxsize=32)
def _jpeg(width: int, height: int, seed: int, orientation: int, dpi: int | None) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    stream = io.BytesIO()
    landscape(width, height, seed).save(
        stream, "JPEG", quality=92, icc_profile=srgb_profile(), exif=exif, **({"dpi": (dpi, dpi)} if dpi else {})
    )
    return stream.getvalue()


def size_of(path: Path) -> tuple[int, int]:
    """Return the (width, height) of the picture at *path*."""
    with Image.open(path) as image:
        return image.size
