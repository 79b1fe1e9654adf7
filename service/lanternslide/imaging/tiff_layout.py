"""How a TIFF's pixels are cut into strips, which decides how much of it a reader holds at once.

Source: TIFF 6.0, sections 3, 7 and 8 (tags 257, 259, 262, 278, 284, 322), and 18 (338).
"""

from __future__ import annotations

import struct
import warnings
from pathlib import Path

from PIL.TiffImagePlugin import ImageFileDirectory_v2

__all__ = ["COMPRESSION", "PHOTOMETRIC", "has_opacity", "held_by_strips", "tag_of"]

COMPRESSION, PHOTOMETRIC = 259, 262
UNCOMPRESSED = 1
SEPARATE = 2
SPREAD = 1.6
"""What the library holds of strips that are decoded whole, as a share of them: the strip, and a part being copied."""


def held_by_strips(path: Path, page: int, row_bytes: int, height: int) -> int:
    """Return how many bytes a reader holds at once of the picture on a *page* whose rows have *row_bytes*.

    Hardly any of a picture in small strips or tiles; all of one that is a single strip.
    """
    tags = _tags(path, page)
    if tags is None or 322 in tags:
        return 0
    rows = min(int(tags.get(278, height)), height)
    if tags.get(COMPRESSION, UNCOMPRESSED) == UNCOMPRESSED and tags.get(284, 1) != SEPARATE:
        return 0
    return int(rows * row_bytes * SPREAD)


def tag_of(path: Path, page: int, tag: int) -> int | None:
    """Return the number that a page's *tag* holds, or None where it cannot be told."""
    tags = _tags(path, page)
    found = tags.get(tag) if tags is not None else None
    return found if isinstance(found, int) else None


def has_opacity(path: Path, page: int) -> bool:
    """Return whether the first channel beside the colours is opacity, and not a saved selection (tag 338: 1 or 2)."""
    tags = _tags(path, page)
    kinds = tags.get(338) if tags is not None else None
    first = kinds[0] if isinstance(kinds, tuple) and kinds else kinds
    return first is None or first in (1, 2)


def _tags(path: Path, page: int) -> ImageFileDirectory_v2 | None:
    """Return a page's directory, or None where it cannot be told."""
    try:
        with path.open("rb") as stream, warnings.catch_warnings():
            # A damaged directory is none; what matters of it, the reader says.
            warnings.simplefilter("ignore")
            head = stream.read(8)
            if head[2:4] in (b"+\0", b"\0+"):
                head += stream.read(8)
            directory = ImageFileDirectory_v2(head)
            for _ in range(page + 1):
                if not directory.next:
                    return None
                stream.seek(directory.next)
                directory.load(stream)
    except (OSError, SyntaxError, ValueError, TypeError, struct.error):
        return None
    return directory
