"""Final sizes, exact to the pixel."""

from __future__ import annotations

from fractions import Fraction
from math import floor, isqrt

from lanternslide.records import SizeRule

__all__ = ["LONGEST_JPEG", "asked_size", "rounded", "target_size"]


LONGEST_JPEG = 65_500
"""Pixels that libjpeg takes at most; the format itself ends at 65,535 (ITU-T T.81, B.2.2)."""


def rounded(value: Fraction) -> int:
    """Return *value* rounded half up, at least 1."""
    return max(1, floor(value + Fraction(1, 2)))


def _root(value: Fraction) -> Fraction:
    """Return the square root of *value*, exact to far less than a pixel."""
    digits = 10**18
    return Fraction(isqrt(value.numerator * digits * digits // value.denominator), digits)


def asked_size(rule: SizeRule, density: float, width: int, height: int) -> tuple[int, int]:
    """Return the (width, height) that *rule* asks for a picture of *width* × *height*, larger ones included.

    The edge that the rule names is exact; the other is rounded to the nearest pixel (half up) and at least 1. With a
    density every edge is so many times as long.
    """
    times = Fraction(density).limit_denominator(10_000)
    values = [Fraction(value).limit_denominator(10**9) * times for value in rule.values]
    match rule.rule:
        case "long_edge":
            scale = values[0] / max(width, height)
        case "short_edge":
            scale = values[0] / min(width, height)
        case "width":
            scale = values[0] / width
        case "height":
            scale = values[0] / height
        case "box":
            scale = min(values[0] / width, values[1] / height)
        case "area":
            scale = _root(values[0] * times * 10**6 / (width * height))
        case _:
            raise ValueError(f"no such rule for a size: {rule.rule}")
    return rounded(scale * width), rounded(scale * height)


def target_size(rule: SizeRule, density: float, width: int, height: int) -> tuple[int, int]:
    """Return the (width, height) to deliver: what *rule* asks for, enlarged only if it says so, and fit for a JPEG."""
    asked = asked_size(rule, density, width, height)
    size = (width, height) if not rule.enlarge and (asked[0] > width or asked[1] > height) else asked
    if max(size) <= LONGEST_JPEG:
        return size
    scale = Fraction(LONGEST_JPEG, max(size))
    return rounded(size[0] * scale), rounded(size[1] * scale)
