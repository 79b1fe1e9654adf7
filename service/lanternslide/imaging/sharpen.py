"""Sharpening lightness with separate limits for light and dark halos, grain left alone.

The method and its constants come from the project's image-quality study (single step, "v3"); numbers in L* unless
said otherwise. Everything works on planes (height, width), float32.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from lanternslide.imaging.colour.transfer import lightness
from lanternslide.imaging.local import gaussian, local_max, local_min
from lanternslide.imaging.measuring.measure import Edges, crispness
from lanternslide.imaging.strips import Strip, sample_of, strips
from lanternslide.imaging.types import Array32

__all__ = ["HALO", "RINGING", "LocalRange", "Sharpener", "Tolerance", "ease_for", "limit", "noise_of"]

TRIALS = (1.2, 2.4)
"""Amounts at which a picture is tried (study, section 1, step 9)."""

DETAIL_SIGMA = 0.5
GATE_FLOOR, GATE_FULL = (0.3, 1.2), (1.2, 3.0)
"""Activity at which detail begins to count and counts in full: a minimum, and a multiple of the noise."""
CRISP, LEAST_EASE = (1.9, 2.5), 0.5
"""Crispness from which on an original counts as sharpened already, and as sharpened hard; what is left of the strength
then. As cameras see them, pictures stay under 1.7 (see `crispness`); how gently is this project's choice, by eye."""

NOISE_BLOCK, NOISE_CAP = 16, 1.5

RANGE_HALO = 2
"""Rows that the local range reaches: a minimum of a maximum over 3×3."""

DETAIL_HALO = 12
"""Rows that the detail and its gate reach: a Gaussian of 2 pixels over one of 1, each cut off at 4 sigma."""


class LocalRange:
    """What lightness the surroundings of each pixel allow, taken from the area average.

    Parameters
    ----------
    L
        The area average's lightness.
    rows
        Which of its rows are asked about; the others are their neighbours.
    """

    def __init__(self, L: Array32, rows: slice = slice(None)) -> None:
        self._L, self._rows = L, rows
        self._low, self._high = local_min(L), local_max(L)
        self.low = self._low[rows]  #: Minimum over 3×3.
        self.high = self._high[rows]  #: Maximum over 3×3.

    @cached_property
    def dark_line(self) -> Array32:
        """Depth of a dark line or spot at each pixel (about 0 beside a plain edge)."""
        depth: Array32 = local_min(self._high)[self._rows] - self._L[self._rows]
        return depth

    @cached_property
    def light_line(self) -> Array32:
        """Height of a bright line or spot."""
        height: Array32 = self._L[self._rows] - local_max(self._low)[self._rows]
        return height


@dataclass(frozen=True, kw_only=True, slots=True)
class Tolerance:
    """How far lightness may leave the range of its surroundings, L*."""

    dark: float
    light: float
    dark_line: float = 0.0  #: What a dark line may gain on top, as a share of its depth.
    light_line: float = 0.0  #: What a bright line may gain, as a share of its height.


RINGING = Tolerance(dark=1.0, light=1.0)
"""What a resize may leave (study, section 1, step 4)."""

HALO = Tolerance(dark=2.0, light=1.0, dark_line=0.8, light_line=0.3)
"""What sharpening may add: hardly anything beside an edge, more to real lines and glints (study, section 1, step 8)."""


def _soft(excess: Array32, tolerance: Array32 | np.float32) -> Array32:
    """Return *excess* bent over: slope 1 at 0, never more than *tolerance*."""
    bent = np.maximum(excess, np.float32(0))
    np.divide(bent, -tolerance, out=bent)
    bent = np.asarray(cv2.exp(bent), np.float32)
    np.subtract(np.float32(1), bent, out=bent)
    bent *= tolerance
    return bent


def limit(L: Array32, around: LocalRange, tolerance: Tolerance) -> Array32:
    """Return *L* held to the range around each pixel, with *tolerance* beyond it."""
    dark: Array32 | np.float32 = np.float32(tolerance.dark)
    light: Array32 | np.float32 = np.float32(tolerance.light)
    if tolerance.dark_line:
        dark = dark + np.float32(tolerance.dark_line) * around.dark_line
    if tolerance.light_line:
        light = light + np.float32(tolerance.light_line) * around.light_line
    kept = np.maximum(L, around.low)
    np.minimum(kept, around.high, out=kept)
    kept += _soft(L - around.high, light)
    kept -= _soft(around.low - L, dark)
    return kept


def noise_of(L: Array32) -> float:
    """Return the grain's standard deviation: the 10th percentile over blocks of 16×16 pixels, at most 1.5.

    The operator [1 -2 1; -2 4 -2; 1 -2 1] / 6 is blind to ramps and edges along the axes (J. Immerkær, "Fast
    noise variance estimation", CVIU 64(2), 1996); blocks nearly black or white do not count.
    """
    rows, columns = (size // NOISE_BLOCK * NOISE_BLOCK for size in L.shape)
    if not columns:
        return 0.0
    found = []
    for strip in strips(rows, 1):
        # One row and column more on either side, as far as the frame goes.
        last = min(strip.core.stop + 1, L.shape[0])
        part = L[strip.outer.start : last, : columns + 1]
        above = int(strip.core.start == strip.outer.start)
        below, right = strip.core.stop + 1 - last, columns + 1 - part.shape[1]
        found.append(_block_noise(np.pad(part, ((above, below), (1, right)), mode="edge")))
    spread = np.concatenate(found) if found else np.empty(0)
    return min(float(np.percentile(spread, 10)), NOISE_CAP) if spread.size else 0.0


def _block_noise(padded: Array32) -> Array32:
    """Return the spread of the residue in each block that counts; *padded* has one pixel more on every side."""
    down = padded[:-2] - 2 * padded[1:-1] + padded[2:]
    residue = (down[:, :-2] - 2 * down[:, 1:-1] + down[:, 2:]) / 6
    rows, columns = (size // NOISE_BLOCK for size in residue.shape)

    def blocks(plane: Array32) -> Array32:
        cut = plane.reshape(rows, NOISE_BLOCK, columns, NOISE_BLOCK)
        return cut.swapaxes(1, 2).reshape(rows * columns, -1)

    means = blocks(padded[1:-1, 1:-1]).mean(axis=1)
    spread: Array32 = blocks(residue).std(axis=1)[(means > 4) & (means < 97)]
    return spread


def _gate(S: Array32, noise: float) -> Array32:
    """Return how much of the detail counts, 0 to 1: none where there is only grain."""
    high = S - gaussian(S, 1.0)
    high *= high
    t = gaussian(high, 2.0)
    np.sqrt(t, out=t)
    start = max(GATE_FLOOR[0], GATE_FLOOR[1] * noise)
    full = max(GATE_FULL[0], GATE_FULL[1] * noise)
    t -= np.float32(start)
    t *= np.float32(1 / (full - start))
    np.maximum(t, np.float32(0), out=t)
    np.minimum(t, np.float32(1), out=t)
    gate = np.float32(3) - np.float32(2) * t
    gate *= t
    gate *= t
    return gate


def _detail(S: Array32, area_lightness: Array32, noise: float) -> Array32:
    """Return the detail of a part of a picture; its outer `DETAIL_HALO` rows lack their neighbours."""
    around = LocalRange(area_lightness)
    detail = S - gaussian(S, DETAIL_SIGMA)
    detail *= _gate(S, noise)
    # A resize in linear light weakens dark lines more than light ones; this gives some of it back.
    more = around.dark_line - around.light_line
    np.maximum(more, np.float32(0), out=more)
    more /= around.dark_line + around.light_line + np.float32(1)
    more *= np.float32(0.5)
    more *= np.minimum(detail, np.float32(0))
    detail += more
    return detail


def ease_for(sample: Sequence[Array32]) -> float:
    """Return how much of its strength a picture gets: 1, and less for one whose original is very crisp already.

    *sample* is the luminance (rows, width) of strips of the area average at the final size.
    """
    found = crispness([lightness(Y) for Y in sample])
    if found is None:
        return 1.0
    start, end = CRISP
    return 1 - (1 - LEAST_EASE) * min(max((found - start) / (end - start), 0.0), 1.0)


class Sharpener:
    """Sharpens the lightness of a resized picture, strip by strip.

    Parameters
    ----------
    cubic_Y, area_Y
        Luminance (0 to 1) of the picture resized by the cubic and by the area average, (height, width) float32; both
        are turned into lightness in place.
    settled
        How far the resize may leave the range of the area average.
    radius
        Sigma in pixels of a plain unsharp mask; None for the detail that leaves grain alone.
    held
        Whether halos are limited.
    """

    def __init__(
        self,
        cubic_Y: Array32,
        area_Y: Array32,
        *,
        settled: Tolerance = RINGING,
        radius: float | None = None,
        held: bool = True,
    ) -> None:
        self.reference = area_Y  #: Lightness of the area average, L*.
        self._settled = cubic_Y
        self._radius = radius
        self._held = held
        for strip in strips(len(area_Y), 0):
            area_Y[strip.core] = lightness(area_Y[strip.core])
        for strip in strips(len(cubic_Y), RANGE_HALO):
            part = lightness(cubic_Y[strip.core])
            cubic_Y[strip.core] = limit(part, self._around(strip), settled)

    @cached_property
    def _detail(self) -> Array32:
        if self._radius is not None:
            return self._settled - gaussian(self._settled, self._radius)
        noise = noise_of(self._settled)
        detail = np.empty_like(self._settled)
        for strip in strips(len(detail), DETAIL_HALO):
            part = _detail(self._settled[strip.outer], self.reference[strip.outer], noise)
            detail[strip.core] = part[strip.inner]
        return detail

    def strips(self) -> Iterator[Strip]:
        """Yield the strips to ask for, from top to bottom."""
        return strips(len(self._settled), RANGE_HALO)

    def lightness_of(self, strip: Strip, amount: float) -> Array32:
        """Return L* (0 to 100) of the rows of a strip, with *amount* (0 or more) times the detail.

        With 0 only the resize's ringing is taken away.
        """
        if amount == 0:
            return self._settled[strip.core]
        if self._held:
            return self._limited(strip, self._around(strip), amount)
        # White and black are the ends all the same: light beyond them would brighten what is resized from it.
        ended: Array32 = np.clip(self._sharpened(strip, amount), np.float32(0), np.float32(100))
        return ended

    def _around(self, strip: Strip) -> LocalRange:
        return LocalRange(self.reference[strip.outer], strip.inner)

    def _sharpened(self, strip: Strip, amount: float) -> Array32:
        sharpened: Array32 = self._settled[strip.core] + np.float32(amount) * self._detail[strip.core]
        return sharpened

    def _limited(self, strip: Strip, around: LocalRange, amount: float) -> Array32:
        return limit(self._sharpened(strip, amount), around, HALO)

    def amount_for(self, acutance: float, *, least: float, most: float) -> float | None:
        """Return the amount, from *least* to *most*, that brings the picture's edges to *acutance*.

        Measured at two amounts on a sample, and taken from the line through both. None for a picture with too few edges
        to tell.
        """
        chosen = sample_of(list(self.strips()), self._settled.size)
        edges = Edges([self.reference[strip.core] for strip in chosen])
        ranges = [self._around(strip) for strip in chosen]
        first, second = (
            edges.contrast([self._limited(*at, amount) for at in zip(chosen, ranges, strict=True)]) for amount in TRIALS
        )
        if first is None or second is None:
            return None
        slope = (second - first) / (TRIALS[1] - TRIALS[0])
        if slope <= 0:  # nothing but grain, which the gate leaves alone
            return most
        return min(max(TRIALS[0] + (acutance - first) / slope, least), most)
