"""Reading JPEG: decoded whole as 8-bit samples, handed out in strips.

libjpeg-turbo's own interface decodes what is in order, in two thirds of Pillow's time and without its fourth byte for
each pixel. Where pixels are certainly wrong the original is held; what else it remarks on is left to Pillow, and said.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path
from struct import error as struct_error

import numpy as np
import simplejpeg
from PIL import Image

from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.reading.damage import not_decoded, not_opened
from lanternslide.imaging.reading.jpeg_frame import frame_of, unread
from lanternslide.imaging.reading.remarks import weigh
from lanternslide.imaging.reading.source import BAND_ROWS, Header
from lanternslide.imaging.types import Codes
from lanternslide.words import Held

__all__ = ["bands", "header", "is_read_whole"]

# The limit on pixels is the config's, held against the header before anything is decoded.
Image.MAX_IMAGE_PIXELS = None

CHANNELS = {"L": 1, "RGB": 3, "CMYK": 4}
COLOURS = {1: "GRAY", 3: "RGB"}
ORIENTATION = 0x0112
CM_PER_INCH = 2.54

WHOLE_BYTES = 256_000_000
"""Samples of a JPEG that is decoded whole at most: 85 megapixels in colour."""

STREAMED_ROWS = 400
"""Rows that are held of a larger one (measured)."""


def header(path: Path) -> Header:
    """Return the header of a JPEG; of a multi-picture file, that of the first picture."""
    frame = frame_of(path)
    if frame is not None and (found := unread(frame)):
        raise OriginalHeldError(Held.UNREAD_KIND, found=found)
    with _open(path) as image:
        return Header(
            path=path,
            kind="JPEG",
            stored_width=image.width,
            stored_height=image.height,
            channels=CHANNELS[image.mode],
            alpha=False,
            extra=0,
            bits=8,
            orientation=_orientation(image),
            icc=image.info.get("icc_profile") or None,
            declared=None,
            density=_density(image),
            held_bytes=_held_bytes(path, image),
            page=0,
            pages=1,  # secondary pictures of a multi-picture file never travel, and are no doubt
        )


def is_read_whole(width: int, height: int, channels: int) -> bool:
    """Return whether a JPEG is small enough to be decoded whole, which is faster; otherwise libvips streams it."""
    return width * height * channels <= WHOLE_BYTES


def _held_bytes(path: Path, image: Image.Image) -> int:
    """Return what decoding holds at once: the file, all samples or some rows, a progressive one's coefficients."""
    channels = CHANNELS[image.mode]
    samples = image.width * image.height * channels
    coefficients = 2 * samples if image.info.get("progressive") else 0
    file = path.stat().st_size
    if is_read_whole(image.width, image.height, channels):
        return file + samples + coefficients
    # The file is mapped twice, to decode it and to read its metadata (measured at 500 and 1,000 megapixels).
    return 2 * file + STREAMED_ROWS * image.width * channels + coefficients


def bands(header: Header, remarks: list[str]) -> Iterator[Codes]:
    """Yield the samples in strips, shape (rows, width, channels), uint8.

    What the decoder remarks on, and the picture may have survived, is added to *remarks*.
    """
    whole = _whole(header, remarks)
    if whole is None:
        yield from _strips_of_pillow(header)
        return
    for top in range(0, header.stored_height, BAND_ROWS):
        yield whole[top : top + BAND_ROWS]


def _whole(header: Header, remarks: list[str]) -> Codes | None:
    """Return all samples of a JPEG that is in perfect order, or None."""
    if header.channels not in COLOURS:
        return None
    try:
        found = simplejpeg.decode_jpeg(header.path.read_bytes(), colorspace=COLOURS[header.channels], strict=True)
    except ValueError as error:
        weigh(str(error), remarks)
        return None
    whole = np.asarray(found, np.uint8)
    return whole if whole.shape == (header.stored_height, header.stored_width, header.channels) else None


def _strips_of_pillow(header: Header) -> Iterator[Codes]:
    with _open(header.path) as image:
        try:
            image.load()
        except (OSError, SyntaxError, ValueError, EOFError) as error:
            if isinstance(error, OSError) and error.errno is not None:
                raise
            raise not_decoded(header.path, "JPEG", str(error)) from error
        for top in range(0, image.height, BAND_ROWS):
            strip = image.crop((0, top, image.width, min(top + BAND_ROWS, image.height)))
            yield np.asarray(strip).reshape(strip.height, strip.width, header.channels)


def _open(path: Path) -> Image.Image:
    try:
        with warnings.catch_warnings():
            # Pillow remarks on secondary pictures and metadata that are broken; neither is used here.
            warnings.simplefilter("ignore")
            return Image.open(path, formats=["JPEG"])
    except OSError as error:
        # The system's own errors have a number; without one it is Pillow that complains about the file.
        if error.errno is not None:
            raise
        raise not_opened(path, "JPEG") from error
    except (SyntaxError, ValueError, EOFError, IndexError) as error:
        raise not_opened(path, "JPEG") from error


def _orientation(image: Image.Image) -> int:
    try:
        with warnings.catch_warnings():
            # Broken Exif never stops a delivery; the metadata step says what was left behind.
            warnings.simplefilter("ignore")
            orientation = image.getexif().get(ORIENTATION, 1)
    except (SyntaxError, ValueError, OSError, EOFError, KeyError, TypeError, struct_error):
        return 1
    return orientation if orientation in range(1, 9) else 1


def _density(image: Image.Image) -> tuple[int, int] | None:
    """Return the JFIF density in dots per inch (JFIF 1.02: unit 1 inch, 2 cm, 0 none)."""
    unit, density = image.info.get("jfif_unit"), image.info.get("jfif_density")
    if unit not in (1, 2) or not density or min(density) < 1:
        return None
    factor = 1.0 if unit == 1 else CM_PER_INCH
    across, down = round(density[0] * factor), round(density[1] * factor)
    return (across, down) if max(across, down) < 2**16 else None
