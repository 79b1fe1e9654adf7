"""A mark in the picture: a text or an image with opacity, blended in linear light.

Source: T. Porter and T. Duff, "Compositing digital images", SIGGRAPH 1984 (the operator *over*); linear light as
everywhere in the chain.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import font_source_sans_pro  # type: ignore[import-untyped]
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from lanternslide.errors import PassingFaultError
from lanternslide.imaging.colour.to_srgb import luminance
from lanternslide.imaging.colour.transfer import lightness, luminance_of_lightness, srgb_decode
from lanternslide.imaging.kernels import area_weights, triangle_weights
from lanternslide.imaging.resample import resize
from lanternslide.imaging.types import Array32
from lanternslide.records import Watermark
from lanternslide.words import Passing, told

__all__ = ["DrawnWatermark", "SizedWatermark", "draw_watermark"]

FONT = Path(font_source_sans_pro.font_directory) / "SourceSansPro-Semibold.ttf"
"""Source Sans Pro, SIL Open Font License 1.1; it has Latin, Greek and Cyrillic letters."""

DRAWN_PIXELS = 256
"""Height at which text is drawn whatever the picture; sized by area, its proportions are the same everywhere."""

MOST_MARK_PIXELS = 50_000_000
SURROUNDINGS = (10.0, 90.0)
"""Percentiles of the lightness under a text that it has to stand out from (chosen by eye, on rock and shingle)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class DrawnWatermark:
    """A mark before it is sized for a picture."""

    watermark: Watermark
    light: Array32 | None  #: Linear sRGB times cover, (3, height, width); None for text, which is light or dark.
    cover: Array32  #: How much of each pixel the mark takes, 0 to 1, (height, width).
    line: int  #: Pixels of *cover* that make the mark's height: of the line for text, of the whole for an image.

    def sized(self, width: int, height: int) -> SizedWatermark:
        """Return the mark sized and placed for a picture of *width* × *height* pixels.

        A mark that would be wider than the picture between its margins is made smaller.
        """
        short = min(width, height)
        margin = round(self.watermark.margin * short)
        scale = self.watermark.height * short / self.line
        rows, columns = self.cover.shape
        scale = min(scale, (width - 2 * margin) / columns, (height - 2 * margin) / rows)
        size = max(1, round(rows * scale)), max(1, round(columns * scale))
        planes = self.cover[np.newaxis] if self.light is None else np.concatenate((self.light, self.cover[np.newaxis]))
        sized = np.clip(_sized(planes, size), 0, 1)
        top, left = _place(self.watermark.corner, (height, width), size, margin)
        cover = np.asarray(sized[-1] * np.float32(self.watermark.opacity), np.float32)
        light = None if self.light is None else np.asarray(sized[:3] * np.float32(self.watermark.opacity), np.float32)
        return SizedWatermark(top=top, left=left, cover=cover, light=light)


@dataclass(kw_only=True, slots=True)
class SizedWatermark:
    """A mark where it stands in a picture."""

    top: int
    left: int
    cover: Array32  #: Opacity of each pixel, 0 to 1, (height, width).
    light: Array32 | None  #: Linear sRGB times opacity, (3, height, width); None until `choose` has been asked.

    @property
    def box(self) -> tuple[slice, slice]:
        """Rows and columns of the picture that the mark stands in."""
        rows, columns = self.cover.shape
        return slice(self.top, self.top + rows), slice(self.left, self.left + columns)

    def choose(self, L: Array32) -> None:
        """Make a text light or dark: whichever is further from what lies around it.

        What counts is how the text will look, at its opacity, against all but the darkest or lightest of its box (*L*,
        the box's lightness, 0 to 100).
        """
        if self.light is None:
            darkest, lightest = np.percentile(L, SURROUNDINGS)
            opacity = np.float32(self.cover.max(initial=0))
            through = luminance_of_lightness(L) * (1 - opacity)
            as_light, as_dark = (float(lightness(through + tone * opacity).mean()) for tone in (1, 0))
            tone = np.float32(as_light - lightest >= darkest - as_dark)
            self.light = np.repeat((self.cover * tone)[np.newaxis], 3, axis=0)

    def blend(self, rgb: Array32, rows: slice) -> None:
        """Put the mark over linear sRGB (3, rows, width) of the picture's *rows*, in place."""
        first, last = max(self.top, rows.start), min(self.top + self.cover.shape[0], rows.stop)
        if first >= last or self.light is None:
            return
        mine = slice(first - self.top, last - self.top)
        under = rgb[:, first - rows.start : last - rows.start, self.box[1]]
        under *= 1 - self.cover[mine]
        under += self.light[:, mine]

    def blend_lightness(self, L: Array32) -> None:
        """Put the mark over the lightness (height, width) of a whole picture, in place."""
        if self.light is None:
            return
        Y = luminance_of_lightness(L[self.box]) * (1 - self.cover) + luminance(self.light, np.eye(3))
        L[self.box] = lightness(np.asarray(Y, np.float32))


def draw_watermark(watermark: Watermark) -> DrawnWatermark:
    """Return the mark that is wished for.

    Raises
    ------
    PassingFaultError
        If its image or font is not there or cannot be read, or the font lacks its letters: nothing is delivered without
        its mark.
    """
    return _text(watermark) if watermark.text is not None else _image(watermark)


def _text(watermark: Watermark) -> DrawnWatermark:
    text = watermark.text or ""
    path = Path(watermark.font) if watermark.font else FONT
    try:
        font = ImageFont.truetype(path, DRAWN_PIXELS, layout_engine=ImageFont.Layout.BASIC)
    except OSError as error:
        detail = told(error) if error.strerror else "it is not there" if not path.exists() else "it is no font"
        raise PassingFaultError(Passing.MARK_UNREADABLE, file=path, detail=detail) from error
    missing = bytes(font.getmask("\uffff"))
    lacking = [letter for letter in dict.fromkeys(text) if letter.strip() and bytes(font.getmask(letter)) == missing]
    if lacking:
        raise PassingFaultError(Passing.MARK_LETTERS, file=path, letters="".join(lacking))
    left, top, right, bottom = (int(edge) for edge in font.getbbox(text))
    drawn = Image.new("L", (max(right - left, 1), max(bottom - top, 1)), 0)
    ImageDraw.Draw(drawn).text((-left, -top), text, fill=255, font=font)
    ascent, descent = font.getmetrics()
    return DrawnWatermark(
        watermark=watermark, light=None, cover=np.asarray(drawn, np.float32) / np.float32(255), line=ascent + descent
    )


def _image(watermark: Watermark) -> DrawnWatermark:
    path = Path(watermark.image or "")
    try:
        with Image.open(path, formats=("PNG",)) as image:
            if image.width * image.height > MOST_MARK_PIXELS:
                raise PassingFaultError(Passing.MARK_UNREADABLE, file=path, detail="it is larger than 50 megapixels")
            rgba = np.asarray(_of_8_bits(image).convert("RGBA"))
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        detail = getattr(error, "strerror", None) or "it is no whole PNG file"
        raise PassingFaultError(Passing.MARK_UNREADABLE, file=path, detail=detail) from error
    cover = np.asarray(rgba[..., 3], np.float32) / np.float32(255)
    light = srgb_decode(np.arange(256) / 255).astype(np.float32)[rgba[..., :3]].transpose(2, 0, 1) * cover
    return DrawnWatermark(watermark=watermark, light=np.ascontiguousarray(light), cover=cover, line=cover.shape[0])


def _of_8_bits(image: Image.Image) -> Image.Image:
    """Return a picture of 8 bits; Pillow's own conversion of 16-bit grey cuts all but the darkest tones to white."""
    if not image.mode.startswith("I"):
        return image
    return Image.fromarray(((np.asarray(image).astype(np.uint32) + 128) // 257).astype(np.uint8))


def _sized(planes: Array32, size: tuple[int, int]) -> Array32:
    """Return planes (n, height, width) at another size, by area, or linearly where that is larger."""
    larger = size[0] > planes.shape[1] or size[1] > planes.shape[2]
    kernel = triangle_weights if larger else area_weights
    return np.concatenate([resize(plane[np.newaxis], size, kernel) for plane in planes])


def _place(corner: str, picture: tuple[int, int], mark: tuple[int, int], margin: int) -> tuple[int, int]:
    """Return the mark's top and left."""
    below, right = (picture[axis] - mark[axis] - margin for axis in (0, 1))
    if corner == "centre":
        return (picture[0] - mark[0]) // 2, (picture[1] - mark[1]) // 2
    return (margin if "upper" in corner else below), (margin if "left" in corner else right)
