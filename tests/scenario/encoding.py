"""Linear light to the bytes of image files, the same on every run."""

from __future__ import annotations

import io

import numpy as np
import tifffile
from numpy.typing import NDArray
from PIL import Image

from tests.scenario.arrays import Array
from tests.scenario.spaces import Space

__all__ = ["codes8", "codes16", "jpeg", "png", "tiff16"]


def codes8(linear: Array, space: Space) -> NDArray[np.uint8]:
    """Return *linear* (h, w, 3) as 8-bit codes, dithered by a fixed pattern of half a step.

    Without it a sky's smooth gradient would break into bands that no camera's noise leaves.
    """
    rng = np.random.default_rng(8)
    out = np.empty(linear.shape, np.uint8)
    for row, line in enumerate(linear):
        noise = rng.random(line.shape[:1], np.float32)[:, None]
        out[row] = np.clip(space.codes(line, 8) + noise, 0, 255)
    return out


def codes16(linear: Array, space: Space) -> NDArray[np.uint16]:
    """Return *linear* (h, w, 3) as 16-bit codes, rounded, not dithered."""
    return np.rint(space.codes(linear, 16)).astype(np.uint16)


def jpeg(codes: NDArray[np.uint8], profile: bytes, quality: int, dpi: int | None) -> bytes:
    """Return *codes* as a 4:4:4 JPEG with *profile* embedded; without *dpi* its density has no unit."""
    out = io.BytesIO()
    density = {} if dpi is None else {"dpi": (dpi, dpi)}
    image = Image.fromarray(codes)
    image.save(out, "JPEG", quality=quality, subsampling="4:4:4", optimize=True, icc_profile=profile, **density)
    return out.getvalue()


def png(codes: NDArray[np.uint8]) -> bytes:
    """Return *codes* as a PNG without a profile."""
    out = io.BytesIO()
    Image.fromarray(codes).save(out, "PNG", optimize=True)
    return out.getvalue()


def tiff16(codes: NDArray[np.uint16], profile: bytes, dpi: int) -> bytes:
    """Return *codes* as a 16-bit RGB TIFF, deflated after horizontal differencing, with *profile*."""
    out = io.BytesIO()
    # No date, no software tag: nothing in the file changes from run to run.
    tifffile.imwrite(
        out,
        codes,
        photometric="rgb",
        compression="zlib",
        compressionargs={"level": 9},
        predictor=True,
        rowsperstrip=64,
        iccprofile=profile,
        resolution=(dpi, dpi),
        resolutionunit="INCH",
        metadata=None,
        software=False,
    )
    return out.getvalue()
