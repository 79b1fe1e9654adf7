"""Measuring a rendering."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lanternslide.chain.render import Rendering
from lanternslide.imaging.delta_e import code_difference
from lanternslide.imaging.encode import decode_again
from lanternslide.imaging.measure import Edges, Halos, clipped, halos, tone_shift
from lanternslide.imaging.strips import sample_of, strips
from lanternslide.imaging.transfer import lightness_of_codes

__all__ = ["Evidence", "measure"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Evidence:
    """How good a rendering is."""

    acutance: float | None  #: Edge contrast against the area average; None where it does not tell.
    halos: Halos  #: L*.
    tone_shift: tuple[float, float]  #: Mean and 99th percentile, L*.
    clipped: tuple[float, float]  #: Shares of pure black and pure white.
    delta_e: tuple[float, float]  #: CIEDE2000 of the JPEG against the rendering: mean and 99th percentile.


def measure(rendering: Rendering, jpeg: bytes) -> Evidence:
    """Return how good *rendering* is against the plain area average of the original, and its *jpeg* against it.

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
        delta_e=code_difference(codes, decode_again(jpeg)),
    )
