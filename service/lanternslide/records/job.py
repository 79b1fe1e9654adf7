"""What goes to a worker: paths and settings, never pixels."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from lanternslide.records.files import Fingerprint
from lanternslide.words import Said

__all__ = [
    "DeliveryTask",
    "Job",
    "Mark",
    "Mask",
    "Operator",
    "Recipe",
    "Rights",
    "Sharpening",
    "SizeRule",
    "Survey",
    "SurveyTask",
]


@dataclass(frozen=True, kw_only=True, slots=True)
class SizeRule:
    """How large a picture is shown."""

    rule: str  #: ``long_edge``, ``short_edge``, ``width``, ``height``, ``box`` or ``area``.
    values: tuple[float, ...]  #: Pixels (two for ``box``), or megapixels for ``area``.
    enlarge: bool = False  #: Whether a smaller original is enlarged.


@dataclass(frozen=True, kw_only=True, slots=True)
class Mask:
    """An unsharp mask of lightness by the trade's own numbers."""

    radius: float  #: Sigma of a sampled Gaussian, pixels of its rung.
    amount: float  #: Per cent.
    blend: float  #: How much of it is mixed in, 0 to 1.


@dataclass(frozen=True, kw_only=True, slots=True)
class Sharpening:
    """How a destination's pictures are sharpened."""

    strength: float = 1.0  #: How much in all: 1 is the default look, 0 leaves the picture as the resize made it.
    steps: int = 1  #: How many sizes on the way down are sharpened, the final one included.
    ratio: float = 2.0  #: How many times larger each of them is than the next.
    lead: Mask | None = None  #: The owner's own pass at the larger sizes; None: the chain's.
    finish: Mask | None = None  #: The owner's own pass at the final size; None: the chain's.


@dataclass(frozen=True, kw_only=True, slots=True)
class Rights:
    """What a photographer wants every delivery to say about who made it and whose it is."""

    creator: str | None = None  #: The name that every delivery shows.
    copyright: str | None = None  #: ``{year}`` stands for the year of capture.
    contact: str | None = None  #: An e-mail or web address.
    override: bool = False  #: Whether it replaces what an original says; otherwise it fills in what is missing.


@dataclass(frozen=True, kw_only=True, slots=True)
class Mark:
    """A watermark: a text or an image."""

    text: str | None = None  #: None where it is an image.
    image: str | None = None  #: Path of a PNG.
    corner: str = "lower right"  #: Or ``lower left``, ``upper right``, ``upper left``, ``centre``.
    height: float = 0.04  #: Of the line of text, or of the image: a share of the picture's short edge.
    margin: float = 0.03  #: Distance from the picture's edges: a share of its short edge.
    opacity: float = 0.6  #: Up to 1.
    font: str | None = None  #: Path of a font; None: the one that comes with the service.


@dataclass(frozen=True, kw_only=True, slots=True)
class Operator:
    """How a destination's operator sizes and compresses every upload again."""

    long_edge: int  #: Pixels; what is smaller stays as it is.
    quality: int  #: 1 to 100.
    chroma: str  #: ``4:4:4``, ``4:2:2`` or ``4:2:0``.


@dataclass(frozen=True, kw_only=True, slots=True)
class Recipe:
    """How pictures are prepared for a destination, and what they are called there; not its folder."""

    size: SizeRule  #: How large.
    sharpening: Sharpening  #: How crisp.
    quality: int | None  #: JPEG quality, 1 to 100; None: by need.
    chroma: str  #: ``4:4:4``, ``4:2:2`` or ``4:2:0``.
    progressive: bool  #: Whether the JPEG shows coarsely first.
    brightness: float = 0.0  #: The owner's correction, L*.
    contrast: float = 0.0  #: The owner's correction, per cent.
    clip: bool = False  #: Whether colours that sRGB cannot show are clipped, not brought in.
    metadata: str = "whole"  #: ``whole``, ``rights`` or ``bare``.
    keep_location: bool = False  #: Whether where it was taken travels.
    keep_serials: bool = False  #: Whether serial numbers, the computer's name and the camera's owner travel.
    rights: Rights = Rights()  #: The photographer's own data.
    mark: Mark | None = None  #: None: there is none.
    name: str = "{stem}.jpg"  #: The pattern of names.
    slug: bool = False  #: Whether names are made of a to z, digits and hyphens only.
    min_ssim: float | None = None  #: By need: what is to be kept of the rendering.
    max_bytes: int | None = None  #: What the whole file may have; quality is lowered for it.
    min_quality: int | None = None  #: Neither need nor a limit on bytes leads below this.
    forecast: Operator | None = None  #: What becomes of it at the destination.


@dataclass(frozen=True, kw_only=True, slots=True)
class SurveyTask:
    """Look at an original: what it is, and its digest."""

    root: Path  #: The folder below which no link is followed.
    path: Path  #: Where it lies.
    fingerprint: Fingerprint  #: How it looked when it had settled.
    max_megapixels: float  #: More are refused.
    wanted: tuple[tuple[Recipe, float], ...] = ()  #: What may be made of it: how, and at which density.


@dataclass(frozen=True, kw_only=True, slots=True)
class Survey:
    """What an original is."""

    digest: str  #: SHA-256 of the whole file, hexadecimal.
    width: int  #: Pixels, upright.
    height: int  #: Pixels, upright.
    bits: int  #: Of one sample: 8 or 16.
    kind: str  #: ``JPEG``, ``TIFF``, ``PNG`` or ``WebP``.
    need_mib: float  #: What a worker takes at its peak, MiB, that makes all that is wanted of it.


@dataclass(frozen=True, kw_only=True, slots=True)
class DeliveryTask:
    """One delivery that a job is to make."""

    delivery: int  #: Its number in the ledger.
    destination: str  #: Its name.
    density: float  #: Pixels for one of the layout, 1 to 4.
    recipe: Recipe  #: How it is made.
    temporary: Path  #: Where the encoded file is written, in the folder where it will be published.
    proofs: Path | None = None  #: Where small pictures for the proof sheet go; None: there is none.


@dataclass(frozen=True, kw_only=True, slots=True)
class Job:
    """One original on its way to all its destinations."""

    original: int  #: Its number in the ledger.
    photographer: str  #: Whose it is.
    root: Path  #: The folder below which no link is followed.
    path: Path  #: Where it lies.
    fingerprint: Fingerprint  #: How it looked when it was surveyed.
    survey: Survey  #: What it is.
    deliveries: tuple[DeliveryTask, ...]  #: What is to be made of it.
    findings: tuple[Said, ...] = ()  #: What routing has found already.
