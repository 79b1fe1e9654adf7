"""What a TIFF's directory says that libvips does not: how pixels are stored, and what further channels mean.

Source: TIFF 6.0, sections 3, 7, 8, 14 to 16, 18, 22 and 23.
"""

from __future__ import annotations

import struct
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL.TiffImagePlugin import ImageFileDirectory_v2

__all__ = ["TiffLayout", "directory", "read_layout"]

COMPRESSION, PHOTOMETRIC, ROWS_PER_STRIP, PLANAR, TILE_WIDTH, EXTRA_SAMPLES = 259, 262, 278, 284, 322, 338
UNCOMPRESSED, JPEG = 1, (6, 7)
SEPARATE = 2
OPACITY = (1, 2)
LAB = (8, 9, 10)
SPREAD = 1.6
"""What the library holds of strips that are decoded whole, as a share of them: the strip, and a part being copied."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TiffLayout:
    """How a page is stored."""

    lightness: bool = False  #: Whether its colours are L*a*b*.
    jpeg: bool = False  #: Whether its strips or tiles are JPEGs.
    opacity: bool = True  #: Whether the first channel beside the colours is opacity, and not a saved selection, say.
    rows_at_once: float = 0  #: How many rows a reader has to hold at once; 0: hardly any.


def read_layout(path: Path, page: int, height: int = 0) -> TiffLayout:
    """Return how the *page* of a TIFF is stored, whose picture has *height* rows; what cannot be told is as usual."""
    tags = directory(path, page)
    if tags is None:
        return TiffLayout()
    kinds = tags.get(EXTRA_SAMPLES)
    first = kinds[0] if isinstance(kinds, tuple) and kinds else kinds
    streams = tags.get(COMPRESSION, UNCOMPRESSED) == UNCOMPRESSED and tags.get(PLANAR, 1) != SEPARATE
    rows = 0.0 if streams or TILE_WIDTH in tags else SPREAD * min(int(tags.get(ROWS_PER_STRIP, height)), height)
    return TiffLayout(
        lightness=tags.get(PHOTOMETRIC) in LAB,
        jpeg=tags.get(COMPRESSION) in JPEG,
        opacity=first is None or first in OPACITY,
        rows_at_once=rows,
    )


def directory(path: Path, page: int) -> Any:
    """Return a page's directory, or None where it cannot be told."""
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
    except (OSError, SyntaxError, ValueError, TypeError, struct.error):
        return None
    return tags
