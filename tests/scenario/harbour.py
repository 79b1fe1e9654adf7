"""A small harbour: masts and rigging before a bright sky, a quay with houses, cables, still water."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from tests.scenario.arrays import Array, Ink, grid, mix, smoothstep, window
from tests.scenario.boats import Rig
from tests.scenario.noise import Octaves
from tests.scenario.sky import Ridge, Sky, clouded, ridge
from tests.scenario.strokes import Line, band, draw, sagging
from tests.scenario.water import Mirror

__all__ = ["harbour"]

Colour = tuple[float, float, float]

QUAY = 0.600
"""Row of the quay's waterline, in heights of the picture; its top is QUAY - 0.045."""


PAINTS = ((0.74, 0.72, 0.66), (0.55, 0.50, 0.42), (0.50, 0.20, 0.14), (0.66, 0.58, 0.36), (0.28, 0.36, 0.42))
"""Colours of the houses' walls under the primaries of sRGB."""


@dataclass(frozen=True, kw_only=True)
class _House:
    """A plain house seen from the front: pixels."""

    left: float
    #: Row of its foot
    ground: float
    wide: float
    #: Height of its walls
    tall: float
    #: Height of the picture
    unit: float

    def lay(self, rgb: Array, paint: Array, ink: Ink) -> None:
        """Lay wall, slate roof, chimney and windows over *rgb* in place."""
        unit, top = self.unit, self.ground - self.tall
        middle = self.left + self.wide / 2
        reach = (middle - 0.6 * self.wide, top - 0.07 * unit, middle + 0.6 * self.wide, self.ground + 2)
        part, x, y = window(rgb, reach)
        u, v = x / np.float32(unit), y / np.float32(unit)
        rough = Octaves(longest=0.02, count=6, gain=0.75, seed=1110).at(u, v, 1 / unit)
        slates = Octaves(longest=0.006, count=4, gain=0.8, seed=1120, stretch=4.0).at(u, v, 1 / unit)
        wall = _upright(x, middle, self.wide / 2) * band(y, top, self.ground)
        roof = _upright(x, middle, self.wide * 0.53) * band(y, top - 0.034 * unit, top)
        stack = _upright(x, self.left + 0.16 * self.wide, 0.006 * unit) * band(y, top - 0.056 * unit, top - 0.02 * unit)
        part[:] = mix(part, paint * (1 + np.float32(0.05) * rough)[..., None], wall)
        part[:] = mix(part, ink(0.105, 0.115, 0.135) * (1 + np.float32(0.16) * slates)[..., None], roof)
        part[:] = mix(part, ink(0.20, 0.15, 0.13), stack)
        size = 0.0075 * unit
        for row in (0.30, 0.72):
            for column in (-0.30, 0.0, 0.30):
                _pane(rgb, (middle + column * self.wide, top + row * self.tall), size, ink)


def _upright(x: Array, middle: float, half: float) -> Array:
    """Return the coverage (1, w) of the columns within *half* pixels of *middle*."""
    return np.asarray(np.clip(half + 0.5 - np.abs(x - np.float32(middle)), 0, 1), np.float32)


def _pane(rgb: Array, at: tuple[float, float], size: float, ink: Ink) -> None:
    """Lay a framed window with a cross of bars over *rgb* in place, at *at* (column, row)."""
    cx, cy = at
    part, x, y = window(rgb, (cx - 2 * size, cy - 2 * size, cx + 2 * size, cy + 2 * size))
    frame = _upright(x, cx, size) * band(y, cy - 1.35 * size, cy + 1.35 * size)
    pane = _upright(x, cx, 0.78 * size) * band(y, cy - 1.1 * size, cy + 1.1 * size)
    cross = np.maximum(_upright(x, cx, 0.09 * size), band(y, cy - 0.1 * size, cy + 0.1 * size))
    part[:] = mix(part, ink(0.62, 0.62, 0.60), frame)
    part[:] = mix(part, ink(0.045, 0.055, 0.07), pane * (1 - cross))


def _houses(rgb: Array, ink: Ink) -> None:
    """Lay a row of houses on the quay over *rgb* in place."""
    height, width = rgb.shape[:2]
    rng = np.random.default_rng(21)
    left = 0.015 * width
    while left < 0.60 * width:
        wide = rng.uniform(0.050, 0.085) * height * 1.3
        tall = rng.uniform(0.050, 0.078) * height
        paint = ink(*PAINTS[rng.integers(len(PAINTS))]) * np.float32(rng.uniform(0.62, 0.82))
        house = _House(left=left, ground=(QUAY - 0.044) * height, wide=wide, tall=tall, unit=height)
        house.lay(rgb, paint, ink)
        left += wide * rng.uniform(1.0, 1.22)


def _quay(rgb: Array, ink: Ink) -> None:
    """Lay the quay's wall of coursed stone over *rgb* in place, weed-green at its foot."""
    height, width = rgb.shape[:2]
    top, foot = (QUAY - 0.045) * height, QUAY * height
    part, x, y = window(rgb, (0, top - 2, 0.78 * width, foot + 2))
    end = np.clip(np.float32(0.745 * width) - x + np.float32(0.5) + (foot - y) * np.float32(-0.10), 0, 1)
    down = (y - np.float32(top)) / np.float32(foot - top)
    course = down * np.float32(5.0)
    row = np.floor(course)
    along = x / np.float32(0.020 * height) + row * np.float32(0.43)
    block = np.floor(along)
    tone = np.sin(block * np.float32(12.9898) + row * np.float32(78.233)) * np.float32(43758.5453)
    tone = tone - np.floor(tone)
    beds = np.minimum(course - row, 1 - course + row) * np.float32(1.3)
    joint = np.minimum(beds, np.minimum(along - block, 1 - along + block) * 2)
    grain = Octaves(longest=0.012, count=6, gain=0.8, seed=1130)
    rough = grain.at(x / np.float32(height), y / np.float32(height), 1 / height)
    dark = np.float32(0.45) + np.float32(0.55) * smoothstep(0.03, 0.14, joint)
    value = (np.float32(0.78) + np.float32(0.4) * tone) * (1 + np.float32(0.14) * rough) * dark
    wet = smoothstep(0.45, 0.75, down + np.float32(0.06) * rough)
    dry = np.broadcast_to(ink(0.27, 0.26, 0.24), (*value.shape, 3))
    stone = mix(dry, ink(0.060, 0.070, 0.028), wet) * value[..., None]
    part[:] = mix(part, stone, (band(y, top, foot) * end).astype(np.float32))


def _cables(rgb: Array, ink: Ink) -> Array:
    """Return *rgb* with poles on the quay and the cables between them, across the whole sky."""
    height, width = rgb.shape[:2]
    cover = np.zeros((height, width), np.float32)
    ground = (QUAY - 0.045) * height
    poles = ((-0.20, 0.42), (0.205, 0.315), (0.475, 0.235), (0.705, 0.185))
    thin = 0.00042 * height
    for (x0, t0), (x1, t1) in itertools.pairwise(poles):
        for level in (1.0, 0.985, 0.93):
            high, low = ground - t0 * level * height, ground - t1 * level * height
            wire = Line(x0 * width, high, x1 * width, low, thin * 1.3, thin)
            draw(cover, sagging(wire, (0.018 + 0.01 * level) * height, 48))
    for x, tall in poles[1:]:
        at, top = x * width, ground - tall * height - 0.012 * height
        draw(cover, [Line(at, ground, at, top, 0.0042 * height, 0.0030 * height)])
        for level in (1.0, 0.93):
            y = ground - tall * level * height
            draw(cover, [Line(at - 0.014 * height, y, at + 0.014 * height, y, 0.0018 * height, 0.0018 * height)])
    return mix(rgb, ink(0.050, 0.047, 0.045), cover)


def _water(rgb: Array, ink: Ink) -> None:
    """Fill *rgb* below the quay in place: the mirrored shore over green water, with small bright edges."""
    height, width = rgb.shape[:2]
    mirror = Mirror.below((width, height), QUAY * height, seed=1140, calm=0.9)
    x, y = grid(width, height - mirror.foot)
    near = y / np.float32(height - mirror.foot)
    scale = np.float32(1) / (np.float32(0.10) + near)
    chop = Octaves(longest=0.030, count=6, gain=0.72, seed=1150, stretch=3.0)
    across = (x - np.float32(width / 2)) / np.float32(height) * scale
    facets = chop.at(across, near * scale, scale * np.float32(2.0 / height))
    seen = np.clip(np.float32(0.86) - np.float32(0.40) * near + np.float32(0.075) * facets, 0.05, 1)
    rgb[mirror.foot :] = mix(np.broadcast_to(ink(0.016, 0.040, 0.040), (*seen.shape, 3)), mirror.of(rgb), seen)


def _moored(rgb: Array, boat: Rig, colours: tuple[Array, Array, Array]) -> Array:
    """Return *rgb* with *boat* and its mirror image."""
    height, width = rgb.shape[:2]
    paint, cover = boat.paint((width, height), colours)
    mirror = Mirror.below((width, height), boat.water, seed=1160 + boat.seed)
    image = mirror.of(paint) * np.float32(0.62)
    rgb = mix(rgb, paint, cover)
    rgb[mirror.foot :] = mix(rgb[mirror.foot :], image, mirror.of(cover) * mirror.fade)
    return rgb


def harbour(width: int, height: int, ink: Ink) -> Array:
    """Return the picture (h, w, 3), linear, white at 1."""
    foot = QUAY * height
    sky = Sky(horizon=ink(0.86, 0.86, 0.84), middle=ink(0.62, 0.70, 0.78), zenith=ink(0.30, 0.44, 0.62))
    sheet = Octaves(longest=2.2, count=9, gain=0.55, seed=1100, stretch=1.6)
    rgb = clouded(sky, (width, height), foot, sheet, (ink(0.95, 0.94, 0.92), 0.62))
    air = ink(0.74, 0.77, 0.79)
    far = Ridge(tall=0.085, span=(0.28, 1.30), hump=1.0, seed=1170, haze=0.70)
    near = Ridge(tall=0.150, span=(-0.45, 0.78), hump=1.1, seed=1180, haze=0.36)
    ridge(rgb, far, foot, ink(0.12, 0.14, 0.10), air)
    ridge(rgb, near, foot, ink(0.10, 0.125, 0.060), air)
    _houses(rgb, ink)
    _quay(rgb, ink)
    rgb = _cables(rgb, ink)
    _water(rgb, ink)
    for boat, hull, cabin in _fleet(width, height):
        rgb = _moored(rgb, boat, (ink(*hull), ink(*cabin), ink(0.055, 0.048, 0.042)))
    return rgb


def _fleet(width: int, height: int) -> list[tuple[Rig, Colour, Colour]]:
    """Return the boats, far to near, with the colours of hull and cabin under sRGB's primaries."""

    def boat(x: float, deck: float, tall: float, seed: int, bow: int = 1, size: float = 1.0) -> Rig:
        return Rig(x=x * width, deck=deck * height, tall=tall * height, unit=size * height, seed=seed, bow=bow)

    return [
        (boat(0.335, 0.600, 0.36, 31, bow=-1, size=0.75), (0.66, 0.65, 0.62), (0.42, 0.40, 0.36)),
        (boat(0.885, 0.615, 0.43, 32, size=0.85), (0.36, 0.035, 0.020), (0.62, 0.60, 0.56)),
        (boat(0.155, 0.675, 0.56, 33), (0.035, 0.13, 0.075), (0.58, 0.52, 0.40)),
        (boat(0.625, 0.715, 0.655, 34, bow=-1), (0.030, 0.085, 0.20), (0.70, 0.69, 0.66)),
    ]
