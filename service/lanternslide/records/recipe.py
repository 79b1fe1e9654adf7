"""How a destination's pictures are prepared: what the config says of it, as a worker needs it.

The tables of the config that a worker needs as they are (`sharpen` and its passes, `watermark`, `forecast`) are read
into these records, so that each limit stands once. They are checked when a config is read, not when code makes one.
Each field's description says what is allowed, in words that stand in an error message after "Allowed:". The ledger
keeps recipes as JSON under the names of these fields: another name would have everything made again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Self

from pydantic import ConfigDict, Field, model_validator

from lanternslide.records.values import Chroma, Corner, File, Number, Pixels, Text, Whole, not_taken
from lanternslide.words import ConfigWord

__all__ = ["AS_CONFIG", "Recipe", "Recompression", "Rights", "Sharpening", "SizeRule", "UnsharpMask", "Watermark"]

AS_CONFIG = ConfigDict(extra="forbid")
"""Unknown keys are faults, also where a table is looked at by itself, to say where a key belongs."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SizeRule:
    """How large a picture is shown."""

    rule: str  #: ``long_edge``, ``short_edge``, ``width``, ``height``, ``box`` or ``area``.
    values: tuple[float, ...]  #: Pixels (two for ``box``), or megapixels for ``area``.
    enlarge: bool = False  #: Whether a smaller original is enlarged.


@dataclass(frozen=True, kw_only=True, slots=True)
class UnsharpMask:
    """An unsharp mask of lightness by the trade's own numbers."""

    __pydantic_config__ = AS_CONFIG

    #: How far it reaches.
    radius: Annotated[
        Number,
        Field(
            ge=0.3, le=3, description="0.3 to 3: the Gaussian's sigma in pixels of its rung; less than 0.3 does nothing"
        ),
    ] = 0.5
    #: How strong, 100: as large as the difference to the Gaussian.
    amount: Annotated[Number, Field(ge=0, le=500, description="0 to 500 per cent")] = 100.0
    blend: Annotated[Number, Field(ge=0, le=1, description="0 to 1")] = 1.0  #: How much of it is mixed in.


@dataclass(frozen=True, kw_only=True, slots=True)
class Sharpening:
    """How a destination's pictures are sharpened."""

    __pydantic_config__ = AS_CONFIG

    #: How much in all: 1 is the default look, 0 leaves the picture as the resize made it.
    strength: Annotated[Number, Field(ge=0, le=2, description="0 to 2")] = 1.0
    #: How many sizes on the way down are sharpened, the final one included.
    steps: Annotated[Whole, Field(ge=1, le=4, description="1 to 4")] = 1
    #: How many times larger each of them is than the next.
    ratio: Annotated[Number, Field(ge=1.1, le=4, description="1.1 to 4")] = 2.0
    #: The owner's own pass at the larger sizes; None: the chain's.
    lead: Annotated[UnsharpMask | None, Field(description="a table of radius, amount and blend")] = None
    #: The owner's own pass at the final size; None: the chain's.
    finish: Annotated[UnsharpMask | None, Field(description="a table of radius, amount and blend")] = None

    @model_validator(mode="after")
    def _lead_has_a_size(self) -> Self:
        if self.lead is not None and self.steps == 1:
            raise not_taken(ConfigWord.LEAD_SIZE)
        return self


@dataclass(frozen=True, kw_only=True, slots=True)
class Rights:
    """What a photographer wants every delivery to say about who made it and whose it is."""

    creator: str | None = None  #: The name that every delivery shows.
    copyright: str | None = None  #: ``{year}`` stands for the year of capture.
    contact: str | None = None  #: An e-mail or web address.
    override: bool = False  #: Whether it replaces what an original says; otherwise it fills in what is missing.


@dataclass(frozen=True, kw_only=True, slots=True)
class Watermark:
    """A mark in the picture: a text or an image."""

    __pydantic_config__ = AS_CONFIG

    #: None where it is an image.
    text: Annotated[Text | None, Field(description="text (or an `image`, not both)")] = None
    #: Path of a PNG; None where it is a text.
    image: Annotated[File | None, Field(description="a PNG file (or a `text`, not both)")] = None
    #: Where it stands.
    corner: Annotated[
        Corner,
        Field(description='"lower right", "lower left", "upper right", "upper left" or "centre"'),
    ] = "lower right"
    #: Of the line of text, or of the image: a share of the picture's short edge.
    height: Annotated[Number, Field(gt=0, le=1, description="a share of the short edge, up to 1")] = 0.04
    #: Distance from the picture's edges: a share of its short edge.
    margin: Annotated[Number, Field(ge=0, le=0.5, description="a share of the short edge, 0 to 0.5")] = 0.03
    #: Of the whole mark.
    opacity: Annotated[Number, Field(gt=0, le=1, description="more than 0, up to 1")] = 0.6
    #: Path of a font; None: the one that comes with the service.
    font: Annotated[File | None, Field(description="a font file")] = None

    @model_validator(mode="after")
    def _one_of_two(self) -> Self:
        if (self.text is None) == (self.image is None):
            raise not_taken(ConfigWord.MARK_WHAT)
        return self


@dataclass(frozen=True, kw_only=True, slots=True)
class Recompression:
    """How a destination's operator sizes and compresses every upload again."""

    __pydantic_config__ = AS_CONFIG

    long_edge: Annotated[Pixels, Field(description="pixels, 16 to 100000")]  #: Pixels; what is smaller stays as it is.
    quality: Annotated[Whole, Field(ge=1, le=100, description="1 to 100")] = 75  #: Of its JPEG.
    #: How finely it keeps colour.
    chroma: Annotated[Chroma, Field(description='"4:4:4", "4:2:2" or "4:2:0"')] = "4:2:0"


@dataclass(frozen=True, kw_only=True, slots=True)
class Recipe:
    """How pictures are prepared for a destination, and what they are called there; not its folder."""

    size: SizeRule  #: How large.
    sharpening: Sharpening  #: How crisp.
    quality: int | None  #: JPEG quality, 1 to 100; None: by need.
    chroma: Chroma  #: How finely the JPEG keeps colour.
    progressive: bool  #: Whether the JPEG shows coarsely first.
    brightness: float = 0.0  #: The owner's correction, L*.
    contrast: float = 0.0  #: The owner's correction, per cent.
    clip: bool = False  #: Whether colours that sRGB cannot show are clipped, not brought in.
    metadata: str = "whole"  #: ``whole``, ``rights`` or ``bare``.
    keep_location: bool = False  #: Whether where it was taken travels.
    keep_serials: bool = False  #: Whether serial numbers, the computer's name and the camera's owner travel.
    rights: Rights = Rights()  #: The photographer's own data.
    mark: Watermark | None = None  #: None: there is none.
    name: str = "{stem}.jpg"  #: The pattern of names.
    slug: bool = False  #: Whether names are made of a to z, digits and hyphens only.
    min_ssim: float | None = None  #: By need: what is to be kept of the rendering.
    max_bytes: int | None = None  #: What the whole file may have; quality is lowered for it.
    min_quality: int | None = None  #: Neither need nor a limit on bytes leads below this.
    forecast: Recompression | None = None  #: What becomes of it at the destination.
