"""Running plans on an original: one decode for all of them, then each delivery's own way."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from lanternslide.chain.plan import Plan, SharpeningPass
from lanternslide.imaging.colour.to_srgb import clip_gamut, compress_gamut, in_srgb, luminance
from lanternslide.imaging.colour.transfer import lightness, luminance_of_lightness, srgb_codes
from lanternslide.imaging.colour.working_space import WorkingSpace
from lanternslide.imaging.kernels import area_weights, cubic_weights, triangle_weights
from lanternslide.imaging.local import local_max, local_min
from lanternslide.imaging.measuring.closeup import Box
from lanternslide.imaging.reading.orientation import upright
from lanternslide.imaging.reading.source import Header
from lanternslide.imaging.resample import Resizer, resize
from lanternslide.imaging.sharpen import HALO, RINGING, Sharpener, Tolerance, ease_for
from lanternslide.imaging.strips import Strip, sample_of, strips
from lanternslide.imaging.types import Array32, Bytes8, Flags
from lanternslide.imaging.watermark import DrawnWatermark, SizedWatermark
from lanternslide.words import Doubt, Note, Said, say

__all__ = ["EASED", "Closeup", "CloseupOf", "Rendering", "Way", "decode"]

EASED = 0.9
"""With less than this share of the strength an original counts as sharpened already."""

LEAST_LIGHT = np.float32(1e-7)
"""Luminance below which a gain is not told."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Rendering:
    """The finished pixels for one delivery."""

    plan: Plan
    codes: Bytes8  #: sRGB, shape (height, width, 3).
    reference: Array32  #: L* of the plain area average, with the owner's own tones, to measure against.
    ease: float  #: What is left of the strength for an original that was sharpened before it came.
    out_of_gamut: float  #: Share of pixels that sRGB could not show as they were.
    outside: Flags  #: Which they are, (height, width).
    closeup: Closeup | None  #: What is shown at 1:1, where that is wanted.


@dataclass(frozen=True, kw_only=True, slots=True)
class Closeup:
    """A part of a rendering, and what it would be without sharpening."""

    box: Box
    plain: Bytes8  #: sRGB of the plain area average, shape (height, width, 3).


CloseupOf: TypeAlias = Callable[[Array32], Box]
"""Chooses a part of a picture, given the lightness of its area average."""


def decode(header: Header, space: WorkingSpace, plans: Sequence[Plan]) -> tuple[list[Way], tuple[Said, ...]]:
    """Read the original once; return the way of each of *plans*, ready to be finished, and what was found in decoding.

    Raises
    ------
    OriginalHeldError
        If the file is damaged or cut short.
    """
    source = space.bands(header)
    ways = [Way(header, space, plan, source.channels) for plan in plans]
    for band in source:
        for way in ways:
            way.take(band)
    findings = [say(Doubt.SMALL_FAULT)] if source.remarks else []
    if source.transparent:
        findings.append(say(Note.TRANSPARENCY))
    return ways, tuple(findings)


class Way:
    """One delivery's way from bands of linear light to finished pixels.

    The first rung is made from the bands, each later one from the rung before. The area average that limits a rung is
    always that of the original, so a limit never follows what sharpening has made.
    """

    def __init__(self, header: Header, space: WorkingSpace, plan: Plan, channels: int) -> None:
        self.plan = plan
        self._space = space
        self._orientation = header.orientation
        self._ease = 1.0  #: What is left of the strength for an original that was sharpened before it came.
        # Everything up to the final size happens as the original is stored: turning comes after the resize.
        stored = (header.stored_height, header.stored_width)
        self._sizes = [(rung.width, rung.height) if header.turned else (rung.height, rung.width) for rung in plan.rungs]
        # Enlarging has no area to average: what is linear between the pixels takes its place.
        average = triangle_weights if plan.enlarged else area_weights
        self._first = Resizer(channels, stored, self._sizes[0], cubic_weights, average)
        self._later = [Resizer(channels, stored, size, average) for size in self._sizes[1:]]

    def take(self, band: Array32) -> None:
        """Add the next band of rows, (rows, channels, width)."""
        self._first.take(band)
        for resizer in self._later:
            resizer.take(band)

    def finish(self, drawn: DrawnWatermark | None = None, closeup: CloseupOf | None = None) -> Rendering:
        """Return the finished pixels, with a mark where there is a *drawn* watermark; once only.

        Where a *closeup* is wanted, the rendering also holds that part without sharpening.
        """
        cubic, area = self._first.result()
        areas = [later.result()[0] for later in self._later]
        self._ease = self._ease_for(areas[-1] if areas else area)
        settled = RINGING
        for rung, size, average in zip(self.plan.rungs, self._sizes[1:], areas, strict=False):
            sharpener = self._sharpener(cubic, area, rung.sharpening, settled)
            for strip, clamped, gain in self._strips(sharpener, cubic, area, rung.sharpening):
                cubic[:, strip.core] = clamped * gain
            cubic, area = resize(cubic, size, cubic_weights), average
            # Lines that a rung has strengthened are no ringing.
            settled = HALO
        cubic, area = (upright(planes, self._orientation) for planes in (cubic, area))
        sharpener = self._sharpener(cubic, area, self.plan.rungs[-1].sharpening, settled)
        mark = self._mark(drawn, sharpener.reference)
        shown = None if closeup is None else self._closeup(area, closeup(sharpener.reference), mark)
        return self._finished(cubic, area, sharpener, mark, shown)

    def _finished(
        self, cubic: Array32, area: Array32, sharpener: Sharpener, mark: SizedWatermark | None, shown: Closeup | None
    ) -> Rendering:
        """Return the rendering from the final size's two resizes, (channels, height, width), upright."""
        plan = self.plan
        codes = np.empty((plan.height, plan.width, 3), np.uint8)
        outside = np.empty((plan.height, plan.width), np.bool_)
        for strip, clamped, gain in self._strips(sharpener, cubic, area, plan.rungs[-1].sharpening):
            codes[strip.core], outside[strip.core] = self._codes(clamped, gain, mark, strip.core)
        if plan.tone:
            # What the owner asked for is no fault of the picture: it is measured against the same tones and mark.
            sharpener.reference[:] = plan.tone(sharpener.reference)
        if mark is not None:
            mark.blend_lightness(sharpener.reference)
        return Rendering(
            plan=plan,
            codes=codes,
            reference=sharpener.reference,
            ease=self._ease,
            out_of_gamut=int(np.count_nonzero(outside)) / outside.size,
            outside=outside,
            closeup=shown,
        )

    def _codes(self, linear: Array32, gain: Array32, mark: SizedWatermark | None, rows: slice) -> tuple[Bytes8, Flags]:
        """Return sRGB codes (height, width, 3) of some *rows*, and which of their pixels sRGB could not show."""
        into_gamut = clip_gamut if self.plan.clip else compress_gamut
        rgb, outside = into_gamut(self._in_srgb(linear, gain))
        if mark is not None:
            mark.blend(rgb, rows)
        return srgb_codes(rgb), outside

    def _closeup(self, area: Array32, box: Box, mark: SizedWatermark | None) -> Closeup:
        rows = np.ascontiguousarray(area[:, box.rows])
        codes, _ = self._codes(rows, np.ones(rows.shape[1:], np.float32), mark, box.rows)
        return Closeup(box=box, plain=codes[:, box.columns])

    def _mark(self, drawn: DrawnWatermark | None, reference: Array32) -> SizedWatermark | None:
        if drawn is None:
            return None
        mark = drawn.sized(self.plan.width, self.plan.height)
        under = reference[mark.box]
        mark.choose(self.plan.tone(under) if self.plan.tone else under)
        return mark

    def _sharpener(self, cubic: Array32, area: Array32, how: SharpeningPass, settled: Tolerance) -> Sharpener:
        cubic_Y, area_Y = (luminance(planes, self._space.to_srgb) for planes in (cubic, area))
        return Sharpener(cubic_Y, area_Y, settled=settled, radius=how.radius, held=how.held)

    def _strips(
        self, sharpener: Sharpener, cubic: Array32, area: Array32, how: SharpeningPass
    ) -> Iterator[tuple[Strip, Array32, Array32]]:
        """Yield strips of a rung: where, its linear light, and the gain that gives it its lightness."""
        amount = self._amount(sharpener, how)
        for strip in sharpener.strips():
            clamped = _clamp(cubic[:, strip.core], area[:, strip.outer], strip.inner)
            Y: Array32 = np.maximum(luminance(clamped, self._space.to_srgb), LEAST_LIGHT)
            L = sharpener.lightness_of(strip, amount)
            gain: Array32 = luminance_of_lightness(L) / Y
            yield strip, clamped, gain

    def _in_srgb(self, clamped: Array32, gain: Array32) -> Array32:
        """Return linear sRGB of a strip times its *gain*, with the owner's own tones.

        Sharpening never lifts a colour beyond what sRGB can show: bringing it in again would bleach it.
        """
        rgb = in_srgb(clamped, self._space.to_srgb)
        brightest = np.maximum(rgb.max(axis=0), LEAST_LIGHT)
        gain = np.minimum(gain, np.maximum(np.float32(1), 1 / brightest))
        if self.plan.tone:
            Y = np.maximum(luminance(clamped, self._space.to_srgb), LEAST_LIGHT)
            gain = np.divide(luminance_of_lightness(self.plan.tone(lightness(Y * gain))), Y, dtype=np.float32)
        rgb *= gain
        return rgb

    def _amount(self, sharpener: Sharpener, how: SharpeningPass) -> float:
        if how.amount is not None:
            # What the owner asks for by numbers is the owner's; the chain leaves an eased picture's larger sizes alone.
            return 0.0 if how.radius is None and self._ease < EASED else how.amount
        least, most = self.plan.amounts
        acutance = 1 + (self.plan.acutance - 1) * self._ease
        found = sharpener.amount_for(acutance, least=least * self._ease, most=most)
        return self.plan.default_amount * self._ease if found is None else found

    def _ease_for(self, area: Array32) -> float:
        """Return how gently the picture is to be treated, where the chain decides about it."""
        if all(rung.sharpening.amount is not None for rung in self.plan.rungs):
            return 1.0
        chosen = sample_of(list(strips(area.shape[1], 0)), area[0].size)
        return ease_for([luminance(area[:, strip.core], self._space.to_srgb) for strip in chosen])


def _clamp(cubic: Array32, area: Array32, inner: slice) -> Array32:
    """Return *cubic* with each channel inside what the area average shows around it: ringing must not tint."""
    clamped = np.empty_like(cubic)
    for plane, of, into in zip(cubic, area, clamped, strict=True):
        np.maximum(plane, local_min(of)[inner], out=into)
        np.minimum(into, local_max(of)[inner], out=into)
    return clamped
