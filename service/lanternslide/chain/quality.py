"""Which JPEG quality a delivery gets: the owner's, the least that keeps a measured SSIM, or what a budget leaves."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeAlias

__all__ = ["MOST_ENCODES", "Aim", "Encoded", "Encoder", "Found", "find_quality"]

MOST_ENCODES = 8
"""A search never encodes more often: halving 1 to 100 takes 7, and one more is the first guess or the floor."""

BEST = 100
FIRST_GUESS = 86
"""Where pictures with detail keep an SSIM of 0.98 at web sizes (this project's own measurement; no source)."""

BYTES_SLOPE, LOSS_SLOPE = -0.6, 1.0
"""How fast bytes and 1 - SSIM change with the scale of the quantisation, in logarithms, where only one point is known
(this project's own measurement; no source)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Aim:
    """What the quality of a delivery is chosen by."""

    quality: int | None  #: 1 to 100; None: by need.
    min_ssim: float | None = None  #: By need: what is to be kept.
    max_bytes: int | None = None  #: What the whole file may have.
    floor: int = 1  #: Neither need nor a budget leads below this.


@dataclass(frozen=True, kw_only=True, slots=True)
class Encoded:
    """The delivery at one quality."""

    quality: int
    jpeg: bytes  #: Without metadata.
    size: int  #: Bytes of the whole file.
    ssim: float | None  #: Against the rendering; None where it was not asked for, or cannot be told.


Encoder: TypeAlias = Callable[[int], Encoded]


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """The quality that was chosen, and why."""

    chosen: Encoded
    by: Literal["config", "ssim", "bytes"]
    tried: tuple[tuple[int, int], ...]  #: Every quality that was tried, with its bytes.


def find_quality(encode: Encoder, aim: Aim) -> Found:
    """Return the delivery at the quality that *aim* leads to, in at most `MOST_ENCODES` encodes.

    Bytes and SSIM both rise with quality. A quality is too low where its file fits and its SSIM is less than asked for;
    the search finds the border between what is too low and what is not. Where even the lowest quality allowed does not
    fit, or the best does not keep the SSIM, that one is returned; whoever asked can tell from its figures.
    """
    search = _Search(encode, aim)
    if aim.quality is not None:
        asked = search.try_at(aim.quality)
        if search.fits(asked) or aim.floor >= aim.quality:
            return search.found(asked, "config")
        return search.found(search.last_that_is_too_low(aim.floor, aim.quality - 1), "bytes")
    chosen = search.last_that_is_too_low(aim.floor, BEST)
    above = search.above
    if above is not None and search.fits(above):
        return search.found(above, "ssim")
    return search.found(chosen, "ssim" if chosen.quality == BEST and search.fits(chosen) else "bytes")


class _Search:
    """Keeps what was tried: the figures of all, the files of the two at the border."""

    def __init__(self, encode: Encoder, aim: Aim) -> None:
        self._encode = encode
        self._aim = aim
        self._figures: dict[int, Encoded] = {}
        self.above: Encoded | None = None  #: The lowest quality known to be not too low.

    def try_at(self, quality: int) -> Encoded:
        encoded = self._encode(quality)
        self._figures[quality] = Encoded(quality=quality, jpeg=b"", size=encoded.size, ssim=encoded.ssim)
        return encoded

    def found(self, chosen: Encoded, by: Literal["config", "ssim", "bytes"]) -> Found:
        tried = tuple(sorted((item.quality, item.size) for item in self._figures.values()))
        return Found(chosen=chosen, by=by, tried=tried)

    def fits(self, encoded: Encoded) -> bool:
        return self._aim.max_bytes is None or encoded.size <= self._aim.max_bytes

    def _is_too_low(self, encoded: Encoded) -> bool:
        if not self.fits(encoded):
            return False
        if self._aim.quality is not None:
            return True  # of what fits, the best is wanted
        return encoded.ssim is not None and self._aim.min_ssim is not None and encoded.ssim < self._aim.min_ssim

    def last_that_is_too_low(self, low: int, high: int) -> Encoded:
        """Return the highest quality from *low* to *high* that is too low, *low* itself if none is.

        Sets `above` to the one beyond it, as far as that lies within. Each try leaves so little that halving the rest
        takes no more encodes than halving from the beginning.
        """
        left = max(math.ceil(math.log2(high - low + 2)), 1)
        below: Encoded | None = None
        while low <= high:
            most = 2 ** (left - 1) - 1
            quality = min(max(self._guess(low, high), high - most, low), low + most, high)
            encoded = self.try_at(quality)
            left -= 1
            if self._is_too_low(encoded):
                below, low = encoded, quality + 1
            else:
                self.above, high = encoded, quality - 1
        if below is not None:
            return below
        assert self.above is not None
        return self.above

    def _guess(self, low: int, high: int) -> int:
        """Return where between *low* and *high* the border probably lies."""
        if not self._figures:
            return FIRST_GUESS
        aim = self._aim
        guesses = []
        if aim.max_bytes is not None:
            sizes = [(item.quality, math.log(item.size)) for item in self._figures.values()]
            guesses.append(_solve(sizes, math.log(max(aim.max_bytes, 1)), BYTES_SLOPE))
        if aim.quality is None and aim.min_ssim is not None:
            losses = [
                (item.quality, math.log(1 - item.ssim))
                for item in self._figures.values()
                if item.ssim is not None and item.ssim < 1
            ]
            if losses:
                guesses.append(_solve(losses, math.log(1 - aim.min_ssim), LOSS_SLOPE))
        return min(guesses) if guesses else (low + high) // 2


def _solve(points: list[tuple[int, float]], wanted: float, slope: float) -> int:
    """Return the quality at which a figure that is straight over the logarithm of the scale is as *wanted*.

    By the line through the two points that are nearest to it, or through one with the usual *slope*.
    """
    known = [(math.log(_scale(quality)), value) for quality, value in points]
    (x, y), *others = sorted(known, key=lambda at: abs(at[1] - wanted))
    if others and others[0][0] != x and others[0][1] != y:
        slope = (others[0][1] - y) / (others[0][0] - x)
    return _quality_of(math.exp(min(max(x + (wanted - y) / slope, 0.0), math.log(5000))))


def _scale(quality: int) -> float:
    """Return by how many per cent a quality scales the tables of T.81 Annex K (libjpeg, `jpeg_quality_scaling`)."""
    return max(5000 / quality if quality < 50 else 200 - 2 * quality, 1.0)


def _quality_of(scale: float) -> int:
    return round(5000 / scale if scale > 100 else (200 - scale) / 2)
