"""Profiles that work through tables: converted in float by a colour engine (LittleCMS, through libvips).

The engine goes from the source to CIE L*a*b* under D50, the profile connection space, by relative colorimetric intent
with black point compensation (ICC.1:2022, 6.3; ISO 18619:2015). From there it is linear arithmetic again.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pyvips

from lanternslide.imaging.colour.chromaticity import D50_XYZ
from lanternslide.imaging.reading.read_vips import open_image, strips_of
from lanternslide.imaging.reading.source import Header
from lanternslide.imaging.types import Array32

__all__ = ["ORDINARY_INKS", "EngineBands", "accepts"]

ORDINARY_INKS = "cmyk"
"""What libvips calls the profile of ordinary printing inks that it ships."""

INTERPRETATIONS = {1: "b-w", 3: "srgb", 4: "cmyk"}
DELTA = 6 / 29
WHITE = np.array(D50_XYZ, np.float32)[:, None]


def accepts(icc: bytes, channels: int) -> bool:
    """Return whether the engine can convert pictures of so many *channels* by the profile *icc*."""
    pixel = pyvips.Image.black(1, 1, bands=channels).copy(interpretation=INTERPRETATIONS[channels])
    pixel.set_type(pyvips.GValue.blob_type, "icc-profile-data", icc)
    try:
        _to_lab(pixel, embedded=True)(0, 0)
    except pyvips.Error:
        return False
    return True


def _to_lab(image: Any, *, embedded: bool) -> Any:
    options = {"embedded": True} if embedded else {"input_profile": ORDINARY_INKS}
    return image.icc_import(intent="relative", pcs="lab", black_point_compensation=True, **options)


class EngineBands:
    """Bands of an original as XYZ under D50, opacity flattened over white; in the shape of `LinearBands`.

    Parameters
    ----------
    header
        The original.
    embedded
        Whether its own profile is used; otherwise that of ordinary printing inks.
    """

    channels = 3

    def __init__(self, header: Header, *, embedded: bool) -> None:
        self._header = header
        self._embedded = embedded
        self.transparent = False  #: Whether a pixel so far was not fully opaque.
        self.remarks: list[str] = []  #: What the decoder remarked on so far.

    def __iter__(self) -> Iterator[Array32]:
        """Yield (rows, 3, width) float32, rows from top to bottom.

        Raises
        ------
        OriginalHeldError
            If the file is damaged or cut short.
        """
        full = np.float32(2**self._header.bits - 1)
        # Nobody but the strips may hold the image.
        lab = strips_of(
            _to_lab(open_image(self._header), embedded=self._embedded), self._header, np.float32, self.remarks
        )
        for strip in lab:
            linear = _xyz(strip)
            if self._header.alpha:
                opacity = strip[:, None, :, 3] / full
                if opacity.min() < 1:
                    self.transparent = True
                    linear = linear * opacity + WHITE * (1 - opacity)
            yield linear


def _xyz(lab: Array32) -> Array32:
    """Return XYZ under D50 (rows, 3, width), white 1, of L*a*b* (rows, width, 3 or more) (CIE 15:2018, 8.2.1)."""
    f_y = (lab[..., 0] + np.float32(16)) / np.float32(116)
    roots = np.stack([f_y + lab[..., 1] / np.float32(500), f_y, f_y - lab[..., 2] / np.float32(200)], axis=1)
    line = np.float32(3 * DELTA**2) * (roots - np.float32(4 / 29))
    ratios = np.where(roots > np.float32(DELTA), roots * roots * roots, line)
    linear: Array32 = ratios * WHITE
    return linear
