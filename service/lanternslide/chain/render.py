"""Running plans on an original: one decode for all of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lanternslide.chain.plan import Plan
from lanternslide.imaging.colour import apply_gain, clip_gamut, compress_gamut, luminance
from lanternslide.imaging.local import local_max, local_min
from lanternslide.imaging.measure import Edges, Halos, clipped, halos, tone_shift
from lanternslide.imaging.orientation import upright
from lanternslide.imaging.resample import Downsizer
from lanternslide.imaging.sharpen import Sharpener
from lanternslide.imaging.source import Header
from lanternslide.imaging.transfer import lightness_of_codes, luminance_of_lightness, srgb_codes
from lanternslide.imaging.types import Array32, Bytes8
from lanternslide.imaging.working_space import WorkingSpace
from lanternslide.words import Doubt, Said, say

__all__ = ["Rendering", "render"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Rendering:
    """The finished pixels for one delivery, and what was measured of them."""

    plan: Plan
    codes: Bytes8  #: sRGB, shape (height, width, 3).
    out_of_gamut: float  #: Share of pixels that sRGB could not show as they were.
    acutance: float | None  #: Edge contrast against the area average; None without edges to tell.
    halos: Halos  #: L*.
    tone_shift: tuple[float, float]  #: Mean and 99th percentile, L*.
    clipped: tuple[float, float]  #: Shares of pure black and pure white.


def render(header: Header, space: WorkingSpace, plans: Sequence[Plan]) -> tuple[list[Rendering], tuple[Said, ...]]:
    """Return the rendering of each of *plans* and what decoding left in doubt.

    Raises
    ------
    OriginalHeldError
        If the file is damaged or cut short.
    """
    source = space.bands(header)
    stored = (header.stored_height, header.stored_width)
    downsizers = [Downsizer(source.channels, stored, _stored_target(header, plan)) for plan in plans]
    for band in source:
        for downsizer in downsizers:
            downsizer.take(band)
    renderings: list[Rendering] = []
    while downsizers:
        cubic, area = (upright(planes, header.orientation) for planes in downsizers.pop(0).result())
        renderings.append(_finish(plans[len(renderings)], cubic, area, space))
    return renderings, (say(Doubt.TRANSPARENCY),) if source.transparent else ()


def _stored_target(header: Header, plan: Plan) -> tuple[int, int]:
    """Return the final (height, width) as the original is stored: turning comes after the resize."""
    return (plan.width, plan.height) if header.turned else (plan.height, plan.width)


def _finish(plan: Plan, cubic: Array32, area: Array32, space: WorkingSpace) -> Rendering:
    """Return the rendering from the two downsizes, (channels, height, width), linear in the source's primaries."""
    sharpener = Sharpener(luminance(cubic, space.to_srgb), luminance(area, space.to_srgb))
    amount = sharpener.amount_for(plan.acutance, plan.strength) if plan.strength else 0.0
    into_gamut = clip_gamut if plan.clip else compress_gamut
    codes = np.empty((plan.height, plan.width, 3), np.uint8)
    L = np.empty((plan.height, plan.width), np.float32)
    outside = 0
    for strip in sharpener.strips():
        clamped = _clamp(cubic[:, strip.core], area[:, strip.outer], strip.inner)
        Y: Array32 = np.maximum(luminance(clamped, space.to_srgb), np.float32(1e-7))
        gain = luminance_of_lightness(plan.tone(sharpener.lightness_of(strip, amount))) / Y
        rgb, found = into_gamut(apply_gain(clamped, gain, space.to_srgb))
        codes[strip.core] = np.moveaxis(srgb_codes(rgb), 0, -1)
        L[strip.core] = lightness_of_codes(codes[strip.core])
        outside += found
    if plan.tone:
        # What the owner asked for is no fault of the picture: it is measured against a reference with the same tones.
        sharpener.reference[:] = plan.tone(sharpener.reference)
    tiles = [(L[strip.core], sharpener.reference[strip.core]) for strip in sharpener.sample()]
    return Rendering(
        plan=plan,
        codes=codes,
        out_of_gamut=outside / L.size,
        acutance=Edges([reference for _, reference in tiles]).contrast([found for found, _ in tiles]),
        halos=halos(tiles),
        tone_shift=tone_shift(L, sharpener.reference),
        clipped=clipped(codes),
    )


def _clamp(cubic: Array32, area: Array32, inner: slice) -> Array32:
    """Return *cubic* with each channel inside what the area average shows around it: ringing must not tint."""
    low, high = (np.stack([pick(plane)[inner] for plane in area]) for pick in (local_min, local_max))
    return np.clip(cubic, low, high)
