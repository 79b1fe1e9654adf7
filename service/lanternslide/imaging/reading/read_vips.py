"""Reading TIFF, PNG and WebP through libvips: strips at bounded memory, 16 bits kept."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

# One thread for each worker; libvips reads this when it starts.
os.environ.setdefault("VIPS_CONCURRENCY", "1")

import pyvips

from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.colour.png_colour import PngColour, read_png_colour
from lanternslide.imaging.reading.damage import not_decoded, not_opened
from lanternslide.imaging.reading.remarks import overheard, weigh
from lanternslide.imaging.reading.source import BAND_ROWS, Header
from lanternslide.imaging.reading.tiff_layout import TiffLayout, read_layout
from lanternslide.imaging.types import Codes
from lanternslide.words import Held, counted

__all__ = ["bands", "header", "open_image", "strips_of"]

LOADERS = {"TIFF": "tiffload", "PNG": "pngload", "WebP": "webpload", "JPEG": "jpegload"}

# Everything is closed but the loaders that are named here.
pyvips.operation_block_set("VipsForeignLoad", True)
for _loader in ("VipsForeignLoadTiff", "VipsForeignLoadPng", "VipsForeignLoadWebp", "VipsForeignLoadJpeg"):
    pyvips.operation_block_set(_loader, False)
pyvips.cache_set_max(0)


def _text_at(pointer: Any) -> str:
    """Return a text of libvips, whatever bytes are in it."""
    if pointer == pyvips.ffi.NULL:
        return ""
    return bytes(pyvips.ffi.string(pointer)).decode("utf-8", "replace")


# Libvips quotes files as they are. What is no UTF-8 would be a fault of ours, stay in libvips' list of errors, and make
# each further error in this process such a fault.
pyvips._to_string = pyvips.error._to_string = _text_at  # noqa: SLF001 - there is no other way in

BITS = {"uchar": 8, "ushort": 16}
COLOUR_CHANNELS = {"b-w": 1, "grey16": 1, "srgb": 3, "rgb": 3, "rgb16": 3, "cmyk": 4}
SAMPLE_TYPES: dict[int, type[np.uint8 | np.uint16]] = {8: np.uint8, 16: np.uint16}

UNKNOWN_COMPRESSION = re.compile(
    r"compression (?:support|method) is not configured|compression scheme \d+ \w+ decoding is not implemented",
    re.IGNORECASE,
)
WRONG_PIXELS = re.compile(r"^tiff2vips: (?!.*directory)", re.MULTILINE)
"""What libvips and its decoders say (found by trying)."""

MM_PER_INCH = 25.4
CACHED_ROWS = 400
"""What libvips keeps of a picture that it reads from top to bottom (measured)."""

WEBP_BYTES = 7
"""For each pixel of a WebP: its planes as coded, and as red, green, blue and opacity (measured)."""
MAX_PAGES_LOOKED_AT = 64

MOST_CHANNELS = 64
"""More than any program writes that saves selections (a choice); what sorts them takes 128."""


def header(path: Path, kind: str) -> Header:
    """Return the header of the largest page."""
    image, page, pages = _largest_page(path, kind)
    layout = read_layout(path, page, image.height) if kind == "TIFF" else TiffLayout()
    channels = COLOUR_CHANNELS.get(image.interpretation, 0)
    extra = image.bands - channels
    if image.format not in BITS or not channels or extra < 0 or (extra > 1 and kind != "TIFF"):
        found = layout.odd or f"{counted(image.bands, 'channel', 'channels')} of an unknown kind"
        raise OriginalHeldError(Held.SAMPLE_KIND, found=found)
    if image.bands > MOST_CHANNELS:
        raise OriginalHeldError(Held.SAMPLE_KIND, found=f"{image.bands} channels")
    orientation = _field(image, "orientation", 1)
    opaque = extra > 0 and layout.opacity
    said = read_png_colour(path) if kind == "PNG" else PngColour()
    return Header(
        path=path,
        kind=kind,
        stored_width=image.width,
        stored_height=image.height,
        channels=channels,
        alpha=opaque,
        extra=extra - opaque,
        bits=BITS[image.format],
        orientation=orientation if orientation in range(1, 9) else 1,
        icc=None if said.before_profile else _field(image, "icc-profile-data", None),
        declared=said.before_profile or said.without_profile,
        hint=said.hint,
        density=_density(image),
        held_bytes=_held_bytes(kind, layout, image),
        page=page,
        pages=pages,
    )


def _held_bytes(kind: str, layout: TiffLayout, image: Any) -> int:
    """Return what libvips holds at once: all of an interlaced PNG or a WebP, and a TIFF's strips."""
    row: int = image.width * image.bands * BITS[image.format] // 8
    if kind == "WebP":
        return int(image.width * image.height * WEBP_BYTES)
    rows = image.height if _field(image, "interlaced", 0) else layout.rows_at_once
    return int((rows + CACHED_ROWS) * row)


def bands(header: Header, remarks: list[str]) -> Iterator[Codes]:
    """Yield the samples in strips, shape (rows, width, channels), uint8 or uint16."""
    return strips_of(open_image(header), header, SAMPLE_TYPES[header.bits], remarks)


def open_image(header: Header) -> Any:
    """Return the page of *header* as an image of libvips, read from top to bottom."""
    return _open(header.path, header.kind, header.page, fail_on=_strictness(header))


def strips_of(image: Any, header: Header, sample: type[np.generic], remarks: list[str]) -> Iterator[Any]:
    """Yield the values of an image of *header* in strips, shape (rows, width, channels), of the type *sample*.

    What the decoder remarks on, and the picture may have survived, is added to *remarks*. libvips only logs it, when it
    closes the file: nobody else may hold the *image*.

    Raises
    ------
    OriginalHeldError
        If the file behind it is damaged or cut short.
    """
    width, height, channels = image.width, image.height, image.bands
    _said_so_far()
    with overheard("pyvips") as said:
        region = pyvips.Region.new(image)
        for top in range(0, height, BAND_ROWS):
            rows = min(BAND_ROWS, height - top)
            try:
                data = region.fetch(0, top, width, rows)
            except pyvips.Error as error:
                raise _not_decoded(header, str(error)) from error
            yield np.frombuffer(data, sample).reshape(rows, width, channels)
        del region, image
    for remark in said:
        weigh(remark, remarks)
    # Where it cannot decode a tile, libvips leaves it black, and goes on.
    text = _said_so_far()
    if WRONG_PIXELS.search(text):
        raise _not_decoded(header, text)


def _said_so_far() -> str:
    """Return the errors that libvips has kept and nobody has asked for; it forgets them."""
    return str(pyvips.Error("").detail)


def _strictness(header: Header) -> str:
    """Return on which trouble the decoder is to give up: on any, but for further directories that are broken.

    A TIFF can carry a thumbnail in a directory that libtiff does not take; it complains about that on every read.
    """
    if header.kind == "TIFF":
        if read_layout(header.path, header.page).jpeg:
            return "warning"  # libjpeg only warns where pixels are wrong
        image = _open(header.path, header.kind, header.page)
        _said_so_far()
        try:
            pyvips.Region.new(image).fetch(0, 0, image.width, 1)
        except pyvips.Error as error:
            lines = [line for line in str(error).splitlines()[1:] if line.strip()]
            if all("TIFF directory" in line for line in lines):
                return "truncated"
    return "error"


def _open(path: Path, kind: str, page: int, fail_on: str = "error") -> Any:
    _said_so_far()
    options: dict[str, Any] = {"page": page} if kind in ("TIFF", "WebP") else {}
    if kind == "TIFF":
        # Some programs store a picture as one strip, however large; its size is bounded by the limit on pixels.
        options["unlimited"] = True
    try:
        # The operation takes the name as it is; the general loader would read options from its end.
        return pyvips.Operation.call(LOADERS[kind], os.fsencode(path), access="sequential", fail_on=fail_on, **options)
    except pyvips.Error as error:
        raise _not_opened(path, kind, page, str(error)) from error


def _not_opened(path: Path, kind: str, page: int, text: str) -> Exception:
    """Return what it means that a page cannot be opened."""
    odd = read_layout(path, page).odd if kind == "TIFF" else None
    return not_opened(path, kind, text) if odd is None else OriginalHeldError(Held.SAMPLE_KIND, found=odd)


def _not_decoded(header: Header, text: str) -> Exception:
    """Return what it means that pixels cannot be read."""
    layout = read_layout(header.path, header.page) if header.kind == "TIFF" else TiffLayout()
    if UNKNOWN_COMPRESSION.search(text):
        return OriginalHeldError(Held.UNREAD_KIND, found=f"a TIFF with {layout.compression}")
    if layout.planes_in_tiles:
        return OriginalHeldError(Held.UNREAD_KIND, found="a TIFF whose colours lie apart, in tiles")
    return not_decoded(header.path, header.kind, text)


def _largest_page(path: Path, kind: str) -> tuple[Any, int, int]:
    """Return the largest page, its number, and how many pages hold a picture of that order of size.

    Small pages are previews and thumbnails of the picture, and pages that cannot be read are no pictures.
    """
    first = _open(path, kind, 0)
    found = {0: first}
    if kind == "TIFF":
        for page in range(1, min(_field(first, "n-pages", 1), MAX_PAGES_LOOKED_AT)):
            with contextlib.suppress(OriginalHeldError):
                found[page] = _open(path, kind, page)
    number, best = max(found.items(), key=lambda item: (item[1].width * item[1].height, -item[0]))
    pages = sum(2 * image.width > best.width for image in found.values())
    return best, number, pages


def _field(image: Any, name: str, default: Any) -> Any:
    return image.get(name) if image.get_typeof(name) else default


def _density(image: Any) -> tuple[int, int] | None:
    """Return dots per inch; libvips says 1 per mm where the file says nothing."""
    if image.xres <= 1.0 or image.yres <= 1.0:
        return None
    across, down = round(image.xres * MM_PER_INCH), round(image.yres * MM_PER_INCH)
    return (across, down) if max(across, down) < 2**16 else None
