"""Drawing details side by side, each with its label."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import font_source_sans_pro  # type: ignore[import-untyped]
from PIL import Image, ImageDraw, ImageFont

from lanternslide.imaging.colour.srgb import srgb_profile
from lanternslide.imaging.types import Bytes8

__all__ = ["Detail", "draw_details"]

FONT = Path(font_source_sans_pro.font_directory) / "SourceSansPro-Regular.ttf"
LETTER, LINE, GAP, TITLE = 15, 20, 16, 30
GROUND, INK, QUIET = (119, 119, 119), (255, 255, 255), (235, 235, 235)
"""Middle grey (L* 50), against which neither light nor dark edges flatter."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Detail:
    """A part of a picture and what stands under it."""

    codes: Bytes8  #: sRGB, (height, width, 3).
    lines: tuple[str, ...]
    is_framed: bool = False


def draw_details(title: str, rows: Sequence[Sequence[Detail]]) -> tuple[bytes, list[list[tuple[int, int, int, int]]]]:
    """Return a PNG with a *title* and rows of details of one size, and each one's box: left, top, width, height.

    Details keep every pixel as it is.
    """
    height, width = rows[0][0].codes.shape[:2]
    under = LINE * max(len(detail.lines) for row in rows for detail in row) + GAP
    columns = max(map(len, rows))
    size = GAP + columns * (width + GAP), GAP + TITLE + len(rows) * (height + under + GAP)
    sheet = Image.new("RGB", size, GROUND)
    pen = ImageDraw.Draw(sheet)
    font = ImageFont.truetype(FONT, LETTER, layout_engine=ImageFont.Layout.BASIC)
    pen.text((GAP, GAP // 2), title, fill=INK, font=ImageFont.truetype(FONT, LETTER + 4))
    boxes = []
    for down, row in enumerate(rows):
        found = []
        for across, detail in enumerate(row):
            left, top = GAP + across * (width + GAP), GAP + TITLE + down * (height + under + GAP)
            sheet.paste(Image.fromarray(detail.codes), (left, top))
            if detail.is_framed:
                pen.rectangle((left - 4, top - 4, left + width + 3, top + height + 3), outline=INK, width=2)
            for number, line in enumerate(detail.lines):
                fill = INK if number == 0 else QUIET
                pen.text((left, top + height + 6 + number * LINE), line, fill=fill, font=font)
            found.append((left, top, width, height))
        boxes.append(found)
    stream = io.BytesIO()
    sheet.save(stream, "PNG", icc_profile=srgb_profile())
    return stream.getvalue(), boxes
