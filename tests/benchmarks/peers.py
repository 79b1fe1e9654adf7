"""Ways through libvips to do what the chain does, as peers to be timed against.

All take the original to the final size over as many resizes as the chain (one), in linear light, sharpen lightness,
and encode the same kind of JPEG. What they leave out of the chain's work (limits on halos, grain, gamut, measuring) is
theirs to save.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import numpy as np

__all__ = ["one_step_in_gamma", "straight", "tuned"]

QUALITY = 90
AMOUNT = 2.0
SIGMA = 0.5


def _encode(image: Any) -> None:
    image.jpegsave_buffer(Q=QUALITY, subsample_mode="off", optimize_coding=True, interlace=True)


def straight(original: Path, long_edge: int) -> None:
    """Use the library's own words: a thumbnail in linear light, its sharpen operation, and out."""
    import pyvips  # noqa: PLC0415 - libvips reads its number of threads when it is loaded

    image = pyvips.Image.thumbnail(os.fspath(original), long_edge, height=long_edge, size="down", linear=True)
    _encode(image.sharpen(sigma=SIGMA, m2=AMOUNT, x1=0.5))


def one_step_in_gamma(original: Path, long_edge: int) -> None:
    """Skip the job (codes are averaged, not light, while decoding): the cheapest that looks like it."""
    import pyvips  # noqa: PLC0415

    _encode(pyvips.Image.thumbnail(os.fspath(original), long_edge, height=long_edge, size="down").sharpen(sigma=SIGMA))


def _tables() -> tuple[Any, Any, Any]:
    """Return tables from sRGB codes to 16-bit linear light, and from that to 16-bit L* and to sRGB codes."""
    import pyvips  # noqa: PLC0415

    code = np.arange(256) / 255
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    light = np.arange(65536) / 65535
    lightness = np.where(light > 216 / 24389, 116 * np.cbrt(light) - 16, light * 24389 / 27)
    codes = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)

    def table(values: Any, kind: str) -> Any:
        return pyvips.Image.new_from_array(values[None, :].astype(np.float32)).rint().cast(kind)

    return table(linear * 65535, "ushort"), table(lightness * 655.35, "ushort"), table(codes * 255, "uchar")


def tuned(original: Path, long_edge: int) -> None:
    """Take the fastest way that we could write: tables to 16-bit linear light, Lanczos3, lightness sharpened by a gain.

    The gain is the ratio of luminance after and before, by way of tables of L*; no limiter, no gamut step.
    """
    import pyvips  # noqa: PLC0415

    into, lightness, out = _tables()
    image = pyvips.Image.jpegload(os.fspath(original), access="sequential")
    scale = long_edge / max(image.width, image.height)
    light = image.maplut(into).copy(interpretation="rgb16")
    small = light.resize(scale, kernel="lanczos3").copy_memory()
    Y = small.recomb(pyvips.Image.new_from_array([[0.2126, 0.7152, 0.0722]])).rint().cast("ushort")
    L = Y.maplut(lightness).cast("float") / 655.35
    blurred = L.gaussblur(SIGMA, min_ampl=0.01, precision="float")
    sharp = L + (L - blurred) * AMOUNT
    root = (sharp + 16) / 116
    wanted = (root * root * root) * 65535
    gain = wanted / (Y + 1)
    _encode((small * gain).cast("ushort").maplut(out).copy(interpretation="srgb"))
