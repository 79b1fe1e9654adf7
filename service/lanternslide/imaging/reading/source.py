"""What a reader says of an original's file, and the shape in which it hands out pixels."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from lanternslide.imaging.colour.declared import Declared

__all__ = ["BAND_ROWS", "Header"]

BAND_ROWS = 32
"""Rows that a reader hands out at a time; fixed, so that the same input gives the same bits."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Header:
    """An original's file without its pixels."""

    path: Path
    kind: str  #: ``JPEG``, ``TIFF``, ``PNG`` or ``WebP``.
    stored_width: int  #: Pixels, as stored.
    stored_height: int
    channels: int  #: 1 (grey), 3 (red, green, blue) or 4 (inks).
    alpha: bool  #: Whether a channel of opacity follows.
    extra: int  #: How many channels follow that are neither colour nor opacity, and are left out.
    bits: int  #: Of one sample: 8 or 16.
    orientation: int  #: Exif orientation, 1 to 8.
    icc: bytes | None  #: The embedded colour profile.
    declared: Declared | None  #: The colour space that the file declares without a profile; a profile counts more.
    density: tuple[int, int] | None  #: Dots per inch across and down; plain data.
    held_bytes: int  #: What its reader holds in memory at once, apart from bands.
    page: int  #: The page that holds the picture.
    pages: int  #: How many there are.
    hint: str | None = None  #: Why a file without a profile may not be in sRGB, where it says so.

    @property
    def turned(self) -> bool:
        """Whether the upright picture's width is the stored height."""
        return self.orientation in (5, 6, 7, 8)

    @property
    def width(self) -> int:
        """Pixels, upright."""
        return self.stored_height if self.turned else self.stored_width

    @property
    def height(self) -> int:
        """Pixels, upright."""
        return self.stored_width if self.turned else self.stored_height
