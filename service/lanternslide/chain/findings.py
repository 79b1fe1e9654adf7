"""What measuring a delivery finds that its owner should look at, or know: every threshold in one place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import floor

from lanternslide.chain.evidence import Evidence
from lanternslide.chain.quality import Aim, Found
from lanternslide.chain.render import EASED, Rendering
from lanternslide.imaging.measuring.posterised import steps
from lanternslide.words import Doubt, Note, Said, say

__all__ = ["findings_about", "findings_about_quality"]

OUT_OF_GAMUT = 0.01
"""From this share of pixels on a note tells it; most pictures of wide spaces have a few glints of it (a choice)."""

MUCH_OUT_OF_GAMUT = 0.10
"""From this share of pixels on, bringing colours in may change what the picture is about (a choice)."""

# That an original was sharpened already is told below `EASED`, which rendering itself goes by.

OUT_OF_GAMUT_SAID: Mapping[tuple[bool, bool], Doubt | Note] = {
    (False, False): Note.PARTLY_OUT_OF_GAMUT, (False, True): Doubt.OUT_OF_GAMUT,
    (True, False): Note.PARTLY_CLIPPED, (True, True): Doubt.OUT_OF_GAMUT_CLIPPED,
}  # fmt: skip
"""What is said: whether the destination clips, and whether it is much."""

CLIPPED = 0.01
"""From this share of pure black, or pure white, on it is a note: a sun's disc is less, a blown sky more (a choice)."""

MUCH_CLIPPED = 0.10
"""From this share on, a large part of the picture has no detail at all (a choice)."""

SHORT_OF_ACUTANCE = 0.05
"""How far edges may stay behind what was aimed at (the image-quality study's tolerance)."""

LOW_QUALITY = 85
"""A quality that a byte budget leads to below this shows at edges and in skies (common practice, no source)."""

STEPS = 0.015
"""Steps for each pixel, from which on an original counts as posterised (see `steps`)."""

WIDE = 1.1
"""A space is wide if it holds so many times the colours of sRGB (a choice)."""

NARROW_BITS = 8


def findings_about(
    rendering: Rendering, evidence: Evidence, *, bits: int, gamut_ratio: float, is_filled: bool = False
) -> Iterator[Said]:  # fmt: skip
    """Yield what is doubtful, or good to know, about a rendering of an original with so many *bits*.

    *gamut_ratio* is how many times the colours of sRGB its space holds. What was *filled* in with white is no lost
    light.
    """
    if rendering.ease < EASED:
        yield say(Note.SHARPENED_ALREADY)
    elif evidence.acutance is not None and rendering.plan.is_sharpened_by_need:
        aimed = 1 + (rendering.plan.acutance - 1) * rendering.ease
        if evidence.acutance < aimed - SHORT_OF_ACUTANCE:
            yield say(Note.HALO_AT_LIMIT)
    if rendering.out_of_gamut >= OUT_OF_GAMUT:
        much = rendering.out_of_gamut >= MUCH_OUT_OF_GAMUT
        yield say(OUT_OF_GAMUT_SAID[rendering.plan.clip, much], share=_per_cent(rendering.out_of_gamut))
    shadows, highlights = evidence.clipped
    if shadows >= CLIPPED:
        yield say(Doubt.CLIPPED_SHADOWS if shadows >= MUCH_CLIPPED else Note.PURE_BLACK, share=_per_cent(shadows))
    if highlights >= CLIPPED:
        much = highlights >= MUCH_CLIPPED and not is_filled
        yield say(Doubt.CLIPPED_HIGHLIGHTS if much else Note.PURE_WHITE, share=_per_cent(highlights))
    if bits <= NARROW_BITS and gamut_ratio > WIDE and steps(rendering.reference) > STEPS:
        yield say(Doubt.POSTERISED)


def findings_about_quality(found: Found, aim: Aim) -> Iterator[Said]:
    """Yield what is doubtful about the quality that was chosen."""
    chosen = found.chosen
    if aim.max_bytes is not None and chosen.size > aim.max_bytes:
        size, limit = _kilobytes(chosen.size), _kilobytes(aim.max_bytes)
        yield say(Doubt.OVER_BYTES, quality=chosen.quality, size=size, limit=limit)
    elif found.by == "bytes" and chosen.quality < LOW_QUALITY:
        assert aim.max_bytes is not None
        yield say(Note.LOW_QUALITY_FOR_BYTES, quality=chosen.quality, limit=_kilobytes(aim.max_bytes))
    if chosen.ssim is not None and aim.min_ssim is not None and chosen.ssim < aim.min_ssim:
        # Cut off, not rounded: it must not read like what is asked for.
        likeness = f"{floor(chosen.ssim * 1e5) / 1e5:.5f}"
        yield say(Doubt.UNLIKE, quality=chosen.quality, ssim=likeness, asked=f"{aim.min_ssim:g}")


def _per_cent(share: float) -> str:
    return f"{share * 100:.2g} %" if share < 0.1 else f"{share * 100:.0f} %"


def _kilobytes(number: int) -> str:
    return f"{number / 1000:.1f} kB" if number < 1_000_000 else f"{number / 1e6:.2f} MB"
