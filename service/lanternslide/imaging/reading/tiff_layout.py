"""What a TIFF's directory says that libvips does not: how pixels are stored, and what further channels mean.

Source: TIFF 6.0, sections 3, 7, 8, 14 to 16, 18, 19, 22 and 23.
"""

from __future__ import annotations

import struct
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL.TiffImagePlugin import ImageFileDirectory_v2

__all__ = ["TiffLayout", "read_layout"]

BITS, COMPRESSION, PHOTOMETRIC, ROWS_PER_STRIP, PLANAR = 258, 259, 262, 278, 284
TILE_WIDTH, EXTRA_SAMPLES, SAMPLE_FORMAT = 322, 338, 339
WANTED = (BITS, COMPRESSION, PHOTOMETRIC, ROWS_PER_STRIP, PLANAR, TILE_WIDTH, EXTRA_SAMPLES, SAMPLE_FORMAT)
UNCOMPRESSED, JPEG = 1, (6, 7)
SEPARATE = 2
OPACITY = (1, 2)

ODD_COLOURS: Mapping[int, str] = {
    4: "those of a mask",
    **dict.fromkeys((8, 9, 10), "in L*a*b*"),
    **dict.fromkeys((32803, 34892), "those of a sensor, not developed yet"),
    **dict.fromkeys((32844, 32845), "in a logarithmic scale"),
}
"""Photometric interpretations that are not read (TIFF 6.0, section 8; from memory: 9 and 10 of its supplements, 32803
of ISO 12234-2, the others of libtiff)."""

ODD_NUMBERS: Mapping[int, str] = {
    2: "signed numbers with {bits} bits",
    3: "floating-point numbers with {bits} bits",
    5: "complex numbers",
    6: "complex numbers",
}
"""Sample formats that are not read (TIFF 6.0, section 19; 5 and 6 from memory)."""

READ_BITS, WRITTEN_BITS = (1, 2, 4, 8, 16), {*range(1, 33), 64, 128}
"""Bits of a sample that are read, and that programs write at all."""

COMPRESSIONS: Mapping[int, str] = {
    6: "the JPEG compression of the first TIFFs",
    **dict.fromkeys((33003, 33005, 34712), "JPEG 2000 compression"),
    34661: "JBIG compression",
    34887: "LERC compression",
    34892: "the JPEG compression of camera files",
    34925: "LZMA compression",
    50000: "Zstandard compression",
    50001: "WebP compression",
    **dict.fromkeys((50002, 52546), "JPEG XL compression"),
}
"""What compressions are called that not every reader takes (6: TIFF 6.0, section 22; the others from memory)."""

SPREAD = 1.6
"""What the library holds of strips that are decoded whole, as a share of them: the strip, and a part being copied."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TiffLayout:
    """How a page is stored."""

    odd: str | None = None  #: What its pixels are, for a person, if they are none that is read.
    compression: str = "an unknown compression"  #: For a person.
    jpeg: bool = False  #: Whether its strips or tiles are JPEGs.
    planes_in_tiles: bool = False  #: Whether each channel has tiles of its own.
    opacity: bool = True  #: Whether the first channel beside the colours is opacity, and not a saved selection, say.
    rows_at_once: float = 0  #: How many rows a reader has to hold at once; 0: hardly any.


def read_layout(path: Path, page: int, height: int = 0) -> TiffLayout:
    """Return how the *page* of a TIFF is stored, whose picture has *height* rows; what cannot be told is as usual."""
    tags = _directory(path, page)
    if tags is None:
        return TiffLayout()
    compression, planar = _first(tags, COMPRESSION, UNCOMPRESSED), _first(tags, PLANAR, 1)
    first = _first(tags, EXTRA_SAMPLES, None)
    streams = compression == UNCOMPRESSED and planar != SEPARATE
    rows = 0.0 if streams or TILE_WIDTH in tags else SPREAD * min(int(_first(tags, ROWS_PER_STRIP, height)), height)
    return TiffLayout(
        odd=_odd(tags),
        compression=COMPRESSIONS.get(compression, f"compression number {compression}"),
        jpeg=compression in JPEG,
        planes_in_tiles=planar == SEPARATE and TILE_WIDTH in tags,
        opacity=first is None or first in OPACITY,
        rows_at_once=rows,
    )


def _odd(tags: Mapping[int, Any]) -> str | None:
    """Return what pixels are that are not read; None where they are ordinary ones, or make no sense."""
    photometric, kind, bits = _first(tags, PHOTOMETRIC, None), _first(tags, SAMPLE_FORMAT, 1), _first(tags, BITS, 1)
    if photometric in ODD_COLOURS:
        return ODD_COLOURS[photometric]
    if bits not in WRITTEN_BITS:
        return None
    if kind in ODD_NUMBERS:
        return ODD_NUMBERS[kind].format(bits=bits)
    return None if bits in READ_BITS else f"numbers with {bits} bits"


def _first(tags: Mapping[int, Any], tag: int, default: Any) -> Any:
    """Return the value of a tag, the first of several."""
    value = tags.get(tag, default)
    if isinstance(value, tuple):
        return value[0] if value else default
    return value


def _directory(path: Path, page: int) -> dict[int, Any] | None:
    """Return what is wanted of a page's directory, or None where it cannot be told."""
    try:
        with path.open("rb") as stream, warnings.catch_warnings():
            # A damaged directory is none; what matters of it, the reader says.
            warnings.simplefilter("ignore")
            head = stream.read(8)
            if head[2:4] in (b"+\0", b"\0+"):
                head += stream.read(8)
            tags = ImageFileDirectory_v2(head)
            for _ in range(page + 1):
                if not tags.next:
                    return None
                stream.seek(tags.next)
                tags.load(stream)
            # A value is decoded, and remarked on, once it is asked for.
            return {tag: tags[tag] for tag in WANTED if tag in tags}
    except (OSError, SyntaxError, ValueError, TypeError, KeyError, IndexError, struct.error):
        return None
