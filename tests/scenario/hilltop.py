"""A bare thorn on a hilltop before layers of hills that fade into haze."""

from __future__ import annotations

import numpy as np

from tests.scenario.arrays import Array, Ink, grid, mix
from tests.scenario.branches import crown, tree
from tests.scenario.noise import Octaves
from tests.scenario.sky import Ridge, Sky, clouded, ridge
from tests.scenario.strokes import Line, band, draw

__all__ = ["hilltop"]


def _crest(x: Array, width: int, height: int) -> Array:
    """Return the row (1, w) of the hilltop's edge."""
    t = x / np.float32(width)
    uneven = Octaves(longest=0.5, count=9, gain=0.45, seed=1010)
    bumps = uneven.at(x / np.float32(height), np.zeros_like(x), 1 / height)
    dome = np.float32(0.80) + np.float32(0.36) * (t - np.float32(0.42)) ** 2
    return np.asarray((dome + np.float32(0.010) * bumps) * np.float32(height), np.float32)


def _grass(crest: Array, size: tuple[int, int], rng: np.random.Generator, deep: float) -> list[Line]:
    """Return blades of grass, at the crest (*deep* 0) or down to *deep* heights of the picture below it."""
    width, height = size
    lines = []
    for x in rng.uniform(0, width, 2600 if deep else 800):
        down = deep * rng.random() ** 1.6
        base = float(crest[0, min(int(x), width - 1)]) + down * height
        tall = height * (0.005 + 0.020 * rng.random() + 0.16 * down)
        lean = tall * rng.normal(0.45, 0.3)
        w = height * (0.0012 + 0.006 * down)
        lines.append(Line(x, base + 3, x + 0.4 * lean, base - 0.65 * tall, w, w * 0.8))
        lines.append(Line(x + 0.4 * lean, base - 0.65 * tall, x + lean, base - tall, w * 0.8, w * 0.3))
    return lines


def hilltop(width: int, height: int, ink: Ink, seed: int = 3) -> Array:
    """Return the picture (h, w, 3), linear, white at 1; *seed* grows another tree."""
    x, y = grid(width, height)
    foot = 0.97 * height
    sky = Sky(horizon=ink(0.80, 0.74, 0.66), middle=ink(0.60, 0.63, 0.66), zenith=ink(0.30, 0.40, 0.52))
    sheet = Octaves(longest=3.0, count=8, gain=0.52, seed=1000 + seed, stretch=1.8)
    rgb = clouded(sky, (width, height), foot, sheet, (ink(0.86, 0.84, 0.81), 0.55))
    air = ink(0.76, 0.73, 0.69)
    layers = ((0.33, 0.82, 1.1), (0.26, 0.62, 0.9), (0.20, 0.38, 0.8))
    for i, (tall, haze, hump) in enumerate(layers):
        span = (-0.9 + 0.3 * i, 1.5 + 0.3 * i)
        hill = Ridge(tall=tall, span=span, hump=hump, seed=1020 + 40 * i + seed, haze=haze)
        ridge(rgb, hill, foot, ink(0.09, 0.105, 0.075), air)
    crest = _crest(x, width, height)
    turf = Octaves(longest=0.16, count=8, gain=0.70, seed=1060)
    light = turf.at(x / np.float32(height), y / np.float32(height) * np.float32(2.6), 1 / height)
    soil = ink(0.048, 0.050, 0.017) * np.exp(np.float32(0.42) * np.clip(light, -3, 3))[..., None]
    rgb = mix(rgb, soil, band(y, crest, height + 1))
    rng = np.random.default_rng(seed)
    blades = np.zeros((height, width), np.float32)
    draw(blades, _grass(crest, (width, height), rng, 0.2))
    rgb = mix(rgb, ink(0.15, 0.135, 0.052), blades * np.float32(0.75))
    at = 0.42 * width
    marks = crown((width, height), tree((at, float(crest[0, int(at)]) + 2), 0.62 * height, seed, wind=0.8))
    draw(marks, _grass(crest, (width, height), rng, 0.0))
    return mix(rgb, ink(0.030, 0.026, 0.020), marks)
