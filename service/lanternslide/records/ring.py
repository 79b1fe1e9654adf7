"""A ring-around: one detail of a picture, made in several ways, to choose by eye."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from lanternslide.records.files import Fingerprint
from lanternslide.records.recipe import Recipe, Sharpening
from lanternslide.records.record import ForecastFigures, Halo
from lanternslide.words import Said

__all__ = ["RingCell", "RingTask", "RingVariant", "Ringed"]


@dataclass(frozen=True, kw_only=True, slots=True)
class RingVariant:
    """One way to sharpen."""

    sharpening: Sharpening  #: How.
    label: str  #: What stands under it, for a person.
    is_own: bool = False  #: Whether it is what the destination does now.


@dataclass(frozen=True, kw_only=True, slots=True)
class RingTask:
    """Make a ring-around of an original."""

    root: Path  #: The folder below which no link is followed.
    path: Path  #: Where it lies.
    fingerprint: Fingerprint  #: How it looks now.
    recipe: Recipe  #: How the destination's pictures are made.
    rows: tuple[tuple[RingVariant, ...], ...]  #: From left to right, from top to bottom.
    at: tuple[int, int] | None  #: What lies in the middle, pixels of the delivery (x, y); None: where it is sharpest.
    most_mib: float  #: More memory than this is not taken.
    max_megapixels: float  #: More are refused.
    sheet: Path  #: Where the PNG is written.


@dataclass(frozen=True, kw_only=True, slots=True)
class RingCell:
    """One detail on the sheet, and what was measured of its picture."""

    label: str  #: What stands under it, for a person.
    is_own: bool  #: Whether it is what the destination does now.
    box: tuple[int, int, int, int]  #: Left, top, width and height on the sheet, pixels.
    sharpening: Sharpening | None  #: How it was made; None for what an operator leaves.
    acutance: float | None = None  #: As in `Record`; None where there are too few edges.
    halo: Halo | None = None  #: As in `Record`.
    bytes: int = 0  #: Of the JPEG.
    quality: int | None = None  #: Of the JPEG.
    size: tuple[int, int] | None = None  #: Of the whole picture, where an operator has changed it, pixels.
    left: ForecastFigures | None = None  #: What the operator leaves of it, for such a cell.


@dataclass(frozen=True, kw_only=True, slots=True)
class Ringed:
    """A ring-around that was made."""

    width: int  #: Of the sheet, pixels.
    height: int  #: Of the sheet, pixels.
    picture: tuple[int, int]  #: Width and height of the delivery, pixels.
    place: tuple[int, int]  #: Left and top of the detail in it.
    rows: tuple[tuple[RingCell, ...], ...]  #: From left to right, from top to bottom.
    findings: tuple[Said, ...] = ()  #: Doubts and notes about the original.
