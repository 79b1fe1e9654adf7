"""Measuring a rendering, and what became of it as a JPEG."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lanternslide.chain.render import Rendering
from lanternslide.imaging.colour.transfer import lightness_of_codes
from lanternslide.imaging.encode import decode_again
from lanternslide.imaging.measuring.delta_e import code_difference
from lanternslide.imaging.measuring.measure import Edges, Halos, clipped, halos, tone_shift
from lanternslide.imaging.measuring.ssim import ssim
from lanternslide.imaging.recompress import recompressed, sized
from lanternslide.imaging.strips import sample_of, strips
from lanternslide.imaging.types import Bytes8
from lanternslide.records import Recompression

__all__ = ["Evidence", "Recompressed", "forecast", "measure"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Evidence:
    """How good a rendering is."""

    acutance: float | None  #: Edge contrast against the area average; None where it does not tell.
    halos: Halos  #: L*.
    tone_shift: tuple[float, float]  #: Mean and 99th percentile, L*.
    clipped: tuple[float, float]  #: Shares of pure black and pure white.
    ssim: float | None  #: Of the JPEG against the rendering; None for a picture smaller than the window.
    delta_e: tuple[float, float]  #: CIEDE2000 of the JPEG against the rendering: mean and 99th percentile.


@dataclass(frozen=True, kw_only=True, slots=True)
class Recompressed:
    """What an operator's second compression leaves."""

    ssim: float | None
    bytes: int


def measure(rendering: Rendering, seen: Bytes8) -> Evidence:
    """Return how good *rendering* is against the plain area average of the original, and what is *seen* of it.

    *seen* is its JPEG, decoded again.

    Edge contrast and halos are measured on strips from all over a large picture. An enlarged one has no area average to
    be as steep as.
    """
    codes, reference = rendering.codes, rendering.reference
    L = np.empty_like(reference)
    found = list(strips(len(L), 0))
    for strip in found:
        L[strip.core] = lightness_of_codes(codes[strip.core])
    tiles = [(L[strip.core], reference[strip.core]) for strip in sample_of(found, L.size)]
    edges = None if rendering.plan.enlarged else Edges([tile for _, tile in tiles])
    return Evidence(
        acutance=edges.contrast([tile for tile, _ in tiles]) if edges else None,
        halos=halos(tiles),
        tone_shift=tone_shift(L, reference),
        clipped=clipped(codes),
        ssim=ssim(codes, seen),
        delta_e=code_difference(codes, seen),
    )


def forecast(rendering: Rendering, jpeg: bytes, recompression: Recompression) -> Recompressed:
    """Return what is left of *jpeg* once its destination's operator has sized and compressed it again.

    SSIM is that against the rendering, sized in linear light where the operator makes it smaller.
    """
    again = recompressed(jpeg, recompression.long_edge, recompression.quality, recompression.chroma)
    seen = decode_again(again)
    height, width = seen.shape[:2]
    return Recompressed(ssim=ssim(sized(rendering.codes, width, height), seen), bytes=len(again))
