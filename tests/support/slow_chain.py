"""The chain once more, plainly and slowly, in float64 with numpy and scipy: what the fast one is held to.

Written from the descriptions (the design's section 5 and the image-quality study's section 1), on whole arrays, with
nothing of the code under test but the profile's numbers that a test hands in.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.ndimage import correlate1d, maximum_filter, minimum_filter

__all__ = ["render_slowly"]

Array = npt.NDArray[np.float64]
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


def _matrix(source: int, target: int, *, cubic: bool) -> Array:
    """Return the weights of a resize, row by row."""
    ratio = source / target
    matrix = np.zeros((target, source))
    for row in range(target):
        for column in range(source):
            if cubic:
                x = abs((column + 0.5) - (row + 0.5) * ratio) / ratio
                near, far = 1.5 * x**3 - 2.5 * x**2 + 1, -0.5 * x**3 + 2.5 * x**2 - 4 * x + 2
                matrix[row, column] = near if x < 1 else far if x < 2 else 0
            else:
                matrix[row, column] = max(0, min(column + 1, (row + 1) * ratio) - max(column, row * ratio))
    normalised: Array = matrix / matrix.sum(axis=1, keepdims=True)
    return normalised


def _resize(planes: Array, size: tuple[int, int], *, cubic: bool) -> Array:
    down = _matrix(planes.shape[1], size[0], cubic=cubic)
    across = _matrix(planes.shape[2], size[1], cubic=cubic)
    return np.stack([down @ plane @ across.T for plane in planes])


def _lightness(Y: Array) -> Array:
    Y = np.maximum(Y, 0)
    return np.where(Y > 216 / 24389, 116 * np.cbrt(Y) - 16, Y * 24389 / 27)


def _luminance(L: Array) -> Array:
    L = np.clip(L, 0, 100)
    return np.where(L > 8, ((L + 16) / 116) ** 3, L * 27 / 24389)


def _gaussian(plane: Array, sigma: float) -> Array:
    reach = max(2, int(np.ceil(4 * sigma)))
    taps = np.exp(-(np.arange(-reach, reach + 1) ** 2) / (2 * sigma**2))
    for axis in (0, 1):
        plane = correlate1d(plane, taps / taps.sum(), axis=axis, mode="nearest")
    return plane


def _soft(excess: Array, tolerance: Array | float) -> Array:
    return tolerance * (1 - np.exp(-np.maximum(excess, 0) / tolerance))


def _noise(S: Array) -> float:
    kernel = np.array([1.0, -2.0, 1.0])
    residue = correlate1d(correlate1d(S, kernel, axis=0, mode="nearest"), kernel, axis=1, mode="nearest") / 6
    spreads = []
    for top in range(0, S.shape[0] // 16 * 16, 16):
        for left in range(0, S.shape[1] // 16 * 16, 16):
            block = slice(top, top + 16), slice(left, left + 16)
            if 4 < S[block].mean() < 97:
                spreads.append(residue[block].std())
    return min(float(np.percentile(spreads, 10)), 1.5) if spreads else 0.0


def _smoothstep(x: Array, start: float, full: float) -> Array:
    t = np.clip((x - start) / (full - start), 0, 1)
    return t * t * (3 - 2 * t)


def _roberts(L: Array) -> Array:
    return np.hypot(L[1:, 1:] - L[:-1, :-1], L[1:, :-1] - L[:-1, 1:])


def _sharpened(cubic_Y: Array, area_Y: Array) -> Array:
    base = _lightness(area_Y)
    low, high = minimum_filter(base, 3, mode="nearest"), maximum_filter(base, 3, mode="nearest")
    dark, bright = minimum_filter(high, 3, mode="nearest") - base, base - maximum_filter(low, 3, mode="nearest")

    def limited(L: Array, down: Array | float, up: Array | float) -> Array:
        return np.clip(L, low, high) + _soft(L - high, up) - _soft(low - L, down)

    S = limited(_lightness(cubic_Y), 1.0, 1.0)
    noise = _noise(S)
    activity = np.sqrt(_gaussian((S - _gaussian(S, 1.0)) ** 2, 2.0))
    detail = (S - _gaussian(S, 0.5)) * _smoothstep(activity, max(0.3, 1.2 * noise), max(1.2, 3 * noise))
    lines = np.clip((dark - bright) / (dark + bright + 1), 0, 1)
    detail = np.where(detail < 0, detail * (1 + 0.5 * lines), detail)

    def at(amount: float) -> Array:
        return limited(S + amount * detail, 2 + 0.8 * dark, 1 + 0.3 * bright)

    plain = _roberts(base)
    edges = plain > max(np.percentile(plain, 90), 4)
    if np.count_nonzero(edges) < 200:
        return at(2.0)
    near = maximum_filter(np.pad(edges, ((0, 1), (0, 1))), 3)
    fine, broad = base - _gaussian(base, 0.7), _gaussian(base, 1.4) - _gaussian(base, 2.8)
    crisp = np.abs(fine[near]).sum() / np.abs(broad[near]).sum()
    skewness = (fine[near] ** 3).mean() / (fine[near] ** 2).mean() ** 1.5
    ease = 1 - 0.5 * float(np.clip((crisp - 1.9) / 0.6, 0, 1)) if abs(skewness) <= 0.8 else 1.0
    first, second = (_roberts(at(amount))[edges].mean() / plain[edges].mean() for amount in (1.2, 2.4))
    slope = (second - first) / 1.2
    return at(float(np.clip(1.2 + (1 + 0.35 * ease - first) / slope, 1.2 * ease, 3.0)) if slope > 0 else 3.0)


def render_slowly(linear: Array, to_srgb: Array, size: tuple[int, int]) -> Array:
    """Return encoded sRGB, 0 to 1 and not rounded, (height, width, 3), of linear light (3, height, width)."""
    cubic, area = (_resize(linear, size, cubic=kind) for kind in (True, False))
    weights = LUMINANCE @ to_srgb
    L = _sharpened(np.tensordot(weights, cubic, 1), np.tensordot(weights, area, 1))
    clamped = np.stack(
        [
            np.clip(plane, minimum_filter(of, 3, mode="nearest"), maximum_filter(of, 3, mode="nearest"))
            for plane, of in zip(cubic, area, strict=True)
        ]
    )
    gain = _luminance(L) / np.maximum(np.tensordot(weights, clamped, 1), 1e-7)
    rgb = np.tensordot(to_srgb, clamped, 1)
    # Sharpening lifts no colour beyond what sRGB can show.
    rgb = rgb * np.minimum(gain, np.maximum(1, 1 / np.maximum(rgb.max(axis=0), 1e-7)))
    Y = np.clip(np.tensordot(LUMINANCE, rgb, 1), 0, 1)
    lowest, highest = rgb.min(axis=0), rgb.max(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.minimum(
            np.where(lowest < 0, Y / (Y - lowest), 1.0), np.where(highest > 1, (1 - Y) / (highest - Y), 1.0)
        )
    inside = np.clip(Y + np.nan_to_num(share) * (rgb - Y), 0, 1)
    code = np.where(inside <= 0.0031308, 12.92 * inside, 1.055 * inside ** (1 / 2.4) - 0.055)
    return np.moveaxis(code, 0, -1)
