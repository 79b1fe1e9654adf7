"""Metadata about places in the frame: turned and scaled with the picture, or left out where they are of another one.

Sources: Exif 3.0, 4.6.6 (SubjectArea, SubjectLocation, FocalPlaneXResolution); XMP specification part 2 (the same in
XMP); Metadata Working Group 2.0, 5.9 (regions, as shares of the size that they were applied to); IPTC Photo Metadata
Standard 2025.1 (image regions).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any
from xml.etree import ElementTree as ET

from lanternslide.metadata.keys import is_foreign
from lanternslide.metadata.xmp.namespaces import tag_of
from lanternslide.metadata.xmp.tree import Xmp, key_of

__all__ = ["Frame", "focal_plane", "said_size", "subject", "turn_regions"]

TURNED = frozenset({5, 6, 7, 8})
"""Orientations that swap width and height (Exif 3.0, 4.6.5.1)."""

FLIPPED_ACROSS, FLIPPED_DOWN = frozenset({2, 3, 7, 8}), frozenset({3, 4, 6, 7})
"""Orientations in which the stored picture's columns, or its rows, run the other way."""

EXACT = 10_000
"""Denominators at most."""

RATIONAL = re.compile(r"[0-9]{1,10}(?:\.[0-9]{1,10}|/[1-9][0-9]{0,9})?")
"""A number as Exif or XMP write it (Exif 3.0, 4.6.2; XMP specification part 2)."""

LARGEST = 2**32 - 1
MOST_NUMBERS = 5
ALIKE = 0.01
"""How far shapes may be apart that count as the same (a choice)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Frame:
    """The original's frame as it is stored, and the delivery's; pixels."""

    stored_width: int
    stored_height: int
    orientation: int  #: 1 to 8.
    width: int
    height: int

    @property
    def is_turned(self) -> bool:
        """Whether width and height are swapped."""
        return self.orientation in TURNED

    @property
    def scale(self) -> tuple[Fraction, Fraction]:
        """How large the delivery is, across and down, against the upright original."""
        across, down = self.stored_width, self.stored_height
        if self.is_turned:
            across, down = down, across
        return Fraction(self.width, across), Fraction(self.height, down)


def subject(numbers: Sequence[str], frame: Frame, said: tuple[str, str]) -> list[int] | None:
    """Return where the subject is in the delivery: x, y, and a diameter, or a width and a height; None if unknown.

    *said* is the size of the picture as its metadata say it: the numbers count where that is the original's size.
    """
    try:
        values = [int(number) for number in numbers[:MOST_NUMBERS]]
    except ValueError:
        return None
    if len(values) not in (2, 3, 4) or not _is_of(frame, said):
        return None
    x, y = _turned(frame.orientation, values[0], values[1], frame.stored_width, frame.stored_height)
    across, down = frame.scale
    sides = values[2:][::-1] if frame.is_turned else values[2:]
    scales = [(across + down) / 2] if len(sides) == 1 else [across, down]
    point = [min(max(round(x * across), 0), frame.width - 1), min(max(round(y * down), 0), frame.height - 1)]
    return point + [max(round(side * scale), 1) for side, scale in zip(sides, scales, strict=False)]


def focal_plane(x: str, y: str, *, frame: Frame, said: tuple[str, str]) -> tuple[str, str] | None:
    """Return how many pixels of the delivery lie on a unit of the focal plane, across and down, or None."""
    if not (RATIONAL.fullmatch(x) and RATIONAL.fullmatch(y)):
        return None
    across, down = Fraction(x), Fraction(y)
    if not _is_of(frame, said) or across <= 0 or down <= 0:
        return None
    if frame.is_turned:
        across, down = down, across
    scaled = [
        (value * scale).limit_denominator(EXACT) for value, scale in zip((across, down), frame.scale, strict=True)
    ]
    if any(value.numerator > LARGEST or not value for value in scaled):
        return None
    return f"{scaled[0].numerator}/{scaled[0].denominator}", f"{scaled[1].numerator}/{scaled[1].denominator}"


def _turned(orientation: int, x: float, y: float, width: float, height: float) -> tuple[float, float]:
    """Return where a point of the stored picture is in the upright one."""
    x = width - x if orientation in FLIPPED_ACROSS else x
    y = height - y if orientation in FLIPPED_DOWN else y
    return (y, x) if orientation in TURNED else (x, y)


def _is_of(frame: Frame, said: tuple[str, str]) -> bool:
    return said == (str(frame.stored_width), str(frame.stored_height))


# Regions

REGIONS, APPLIED, AREA = (tag_of(f"mwg-rs:{name}") for name in ("Regions", "AppliedToDimensions", "Area"))
WIDE, HIGH, UNIT = (tag_of(f"stDim:{name}") for name in ("w", "h", "unit"))
AREA_X, AREA_Y, AREA_W, AREA_H, AREA_UNIT = (tag_of(f"stArea:{name}") for name in ("x", "y", "w", "h", "unit"))
IPTC_REGIONS = tag_of("Iptc4xmpExt:ImageRegion")
IPTC_UNIT = tag_of("Iptc4xmpExt:rbUnit")


def turn_regions(xmp: Xmp, frame: Frame) -> bool:
    """Turn the regions in *xmp* with the picture; those of another picture go. Return whether all could stay."""
    before = set(xmp.properties)
    regions = xmp.properties.get(REGIONS)
    if regions is not None and not _turn(regions, frame):
        del xmp.properties[REGIONS]
    image_regions = xmp.properties.get(IPTC_REGIONS)
    if image_regions is not None and not _can_stay(image_regions, frame):
        del xmp.properties[IPTC_REGIONS]
    for tag in [tag for tag in xmp.properties if _is_foreign_region(tag)]:
        if frame.orientation != 1:
            del xmp.properties[tag]
    return before == set(xmp.properties)


def _is_foreign_region(tag: str) -> bool:
    key = key_of(tag)
    return is_foreign(key) and "region" in key.casefold()


def _can_stay(regions: ET.Element, frame: Frame) -> bool:
    """Return whether image regions of IPTC hold for the delivery: shares of an upright picture."""
    units = [unit for element in regions.iter() if (unit := _get(element, IPTC_UNIT))]
    return frame.orientation == 1 and bool(units) and all(unit == "relative" for unit in units)


def _turn(regions: ET.Element, frame: Frame) -> bool:
    applied = next(regions.iter(APPLIED), None)
    areas = list(regions.iter(AREA))
    sizes = _numbers(applied, (WIDE, HIGH)) if applied is not None else None
    if applied is None or sizes is None or min(sizes) <= 0:
        return False
    stored = frame.stored_width / frame.stored_height
    shape = sizes[0] / sizes[1]
    if abs(shape / stored - 1) <= ALIKE:
        orientation = frame.orientation
    elif frame.is_turned and abs(shape * stored - 1) <= ALIKE:  # of the upright picture already
        orientation = 1
    else:
        return False
    turned: list[tuple[ET.Element, dict[str, float]]] = []
    for area in areas:
        place = _numbers(area, (AREA_X, AREA_Y))
        if place is None or _get(area, AREA_UNIT) not in (None, "normalized"):
            return False
        x, y = _turned(orientation, place[0], place[1], 1, 1)
        sides = _numbers(area, (AREA_W, AREA_H))
        values = {AREA_X: x, AREA_Y: y}
        if sides is not None:
            values |= dict(zip((AREA_W, AREA_H), sides[::-1] if orientation in TURNED else sides, strict=True))
        turned.append((area, values))
    for area, values in turned:
        for tag, value in values.items():
            _put(area, tag, f"{value:.6g}")
    for tag, text in ((WIDE, str(frame.width)), (HIGH, str(frame.height)), (UNIT, "pixel")):
        _put(applied, tag, text)
    return True


def _numbers(element: ET.Element, tags: Sequence[str]) -> list[float] | None:
    try:
        return [float(_get(element, tag) or "") for tag in tags]
    except ValueError:
        return None


def _get(element: ET.Element, tag: str) -> str | None:
    """Return a field of a structure, whether it is written as an attribute or as an element."""
    if tag in element.attrib:
        return element.attrib[tag]
    found = next(element.iter(tag), None)
    return None if found is None else found.text


def _put(element: ET.Element, tag: str, text: str) -> None:
    if tag in element.attrib:
        element.set(tag, text)
        return
    found = next(element.iter(tag), None)
    if found is not None:
        found.text = text
    else:
        inner = next((child for child in element if child.tag.endswith("}Description")), element)
        ET.SubElement(inner, tag).text = text


def said_size(exif: Mapping[str, Any]) -> tuple[str, str]:
    """Return the size of the picture as its Exif says it, as text."""
    return str(exif.get("Exif.Photo.PixelXDimension", "")), str(exif.get("Exif.Photo.PixelYDimension", ""))
