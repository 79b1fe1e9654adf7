"""Small and large originals for tests, generated, with a profile."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from PIL import Image

from lanternslide.imaging.icc_write import srgb_profile

__all__ = ["landscape", "save_jpeg", "size_of"]


def landscape(width: int, height: int, seed: int = 1) -> Image.Image:
    """Return a picture with a smooth sky, fine lines and grain."""
    random = np.random.default_rng(seed)
    y = np.linspace(0, 1, height)[:, None]
    x = np.linspace(0, 1, width)[None, :]
    sky = np.stack([90 + 120 * y + 0 * x, 120 + 90 * y + 20 * x, 190 - 30 * y + 0 * x], axis=-1)
    lines = ((x * width * 0.9 + y * height * 0.1).astype(np.int64) % 41 < 2)[..., None] & (y > 0.5)[..., None]
    grain = random.integers(-3, 4, (height, width, 1))
    return Image.fromarray(np.clip(np.where(lines, 30, sky) + grain, 0, 255).astype(np.uint8))


def save_jpeg(
    path: Path, width: int, height: int, *, seed: int = 1, orientation: int = 1, dpi: int | None = None
) -> Path:
    """Write a JPEG of `landscape` with the sRGB profile; the name appears at once and whole."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    stream = io.BytesIO()
    landscape(width, height, seed).save(
        stream, "JPEG", quality=92, icc_profile=srgb_profile(), exif=exif, **({"dpi": (dpi, dpi)} if dpi else {})
    )
    temporary = path.with_name(f".{path.name}.part")
    temporary.write_bytes(stream.getvalue())
    temporary.rename(path)
    return path


def size_of(path: Path) -> tuple[int, int]:
    """Return the (width, height) of the picture at *path*."""
    with Image.open(path) as image:
        return image.size
