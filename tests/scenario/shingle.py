"""A shingle beach from above: thousands of worn pebbles that lie over one another, wet and dry."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.scenario.arrays import Array, Ink, mix, smoothstep
from tests.scenario.noise import Octaves

__all__ = ["shingle"]

LIGHT = np.array([-0.55, -0.42, 0.72], np.float32)
"""Unit vector to the sun: x right, y down, z to the eye."""

SMALLEST, LARGEST = 0.0075, 0.062
"""Half lengths of pebbles, in heights of the picture."""

SAND = 6.0
"""Pebbles laid per area: how often every spot is covered, on average."""


@dataclass(frozen=True, kw_only=True)
class _Beach:
    """The picture while pebbles are laid: arrays (h, w), colour (h, w, 3)."""

    level: Array
    albedo: Array
    slope_x: Array
    slope_y: Array
    gloss: Array


def _empty(width: int, height: int, ink: Ink) -> _Beach:
    shape = (height, width)
    albedo = np.broadcast_to(ink(0.035, 0.03, 0.026), (*shape, 3)).copy()
    flat = [np.zeros(shape, np.float32) for _ in range(4)]
    return _Beach(level=flat[0] - 1, albedo=albedo, slope_x=flat[1], slope_y=flat[2], gloss=flat[3])


def _stones(ink: Ink) -> list[tuple[Array, Array]]:
    """Return the kinds of stone: a base colour and the colour of its veins."""
    return [
        (ink(0.20, 0.21, 0.225), ink(0.33, 0.34, 0.35)),
        (ink(0.115, 0.125, 0.145), ink(0.20, 0.21, 0.22)),
        (ink(0.36, 0.325, 0.28), ink(0.50, 0.46, 0.41)),
        (ink(0.27, 0.165, 0.12), ink(0.42, 0.31, 0.25)),
        (ink(0.055, 0.06, 0.068), ink(0.16, 0.17, 0.18)),
        (ink(0.58, 0.56, 0.52), ink(0.40, 0.36, 0.30)),
        (ink(0.19, 0.205, 0.165), ink(0.34, 0.35, 0.28)),
    ]


def _lay(beach: _Beach, rng: np.random.Generator, half: float, stone: tuple[Array, Array]) -> None:
    """Lay one pebble of half length *half* pixels at a random place, on those that lie there."""
    height, width = beach.level.shape
    cx, cy = rng.uniform(-half, width + half), rng.uniform(-half, height + half)
    turn, flat = rng.uniform(0, np.pi), rng.uniform(0.58, 0.95)
    lobes, phases = rng.uniform(0.0, [0.06, 0.045, 0.03]), rng.uniform(0, 2 * np.pi, 3)
    tone = rng.uniform(0.72, 1.2)
    tilt = rng.normal(0.0, 0.09, 2)
    shift = rng.uniform(0, 500, 2).astype(np.float32)
    reach = half * 1.15 + 1
    left, right = max(0, int(cx - reach)), min(width, int(cx + reach) + 1)
    top, bottom = max(0, int(cy - reach)), min(height, int(cy + reach) + 1)
    if left >= right or top >= bottom:
        return
    x = np.arange(left, right, dtype=np.float32)[None, :] + np.float32(0.5 - cx)
    y = np.arange(top, bottom, dtype=np.float32)[:, None] + np.float32(0.5 - cy)
    c, s = np.float32(np.cos(turn)), np.float32(np.sin(turn))
    u, v = (x * c + y * s) / np.float32(half), (y * c - x * s) / np.float32(half * flat)
    angle = np.arctan2(v, u)
    edge = np.ones_like(angle)
    for order, lobe, phase in zip((2, 3, 4), lobes, phases, strict=True):
        edge += np.float32(lobe) * np.cos(order * angle + np.float32(phase))
    r = np.hypot(u, v) / edge
    dome = np.sqrt(np.clip(1 - r**2.6, 0, 1)) * np.float32(half * 0.55)
    place = (slice(top, bottom), slice(left, right))
    # Coverage over one pixel at the outline. A stone settles a little between those it lies on.
    cover = np.clip((1 - r) * np.float32(half * 0.8) + np.float32(0.5), 0, 1).astype(np.float32)
    rest = float((beach.level[place] * cover).sum() / max(float(cover.sum()), 1e-6)) + 0.12 * half
    level = dome + np.float32(rest) + (np.float32(tilt[0]) * x + np.float32(tilt[1]) * y)
    grain = Octaves(longest=half * 0.5, count=4, gain=0.7, seed=500).at(x + shift[0], y + shift[1], 1.0)
    veins = Octaves(longest=half * 1.2, count=3, gain=0.5, seed=520, stretch=3.0)
    streaks = veins.at(u * np.float32(half) + shift[1], v * np.float32(half) + shift[0], 1.0)
    vein = smoothstep(0.55, 0.95, np.abs(streaks))
    colour = mix(np.broadcast_to(stone[0], (*r.shape, 3)), stone[1], vein * np.float32(0.55))
    colour = colour * (np.float32(tone) * (1 + np.float32(0.13) * np.clip(grain, -2.5, 3)))[..., None]
    steep = np.float32(-0.95) * r**1.8 / np.sqrt(np.clip(1 - r**3, 0.06, 1)) / np.maximum(r, 1e-3)
    sx = steep * (u * c - v * s) + np.float32(tilt[0]) + np.float32(0.035) * grain
    sy = steep * (u * s + v * c) + np.float32(tilt[1]) + np.float32(0.035) * vein
    beach.albedo[place] = mix(beach.albedo[place], colour, cover)
    for target, value in ((beach.slope_x, sx), (beach.slope_y, sy), (beach.level, level)):
        target[place] += (value - target[place]) * cover
    beach.gloss[place] += (np.float32(rng.uniform(0.3, 1.0)) - beach.gloss[place]) * cover


def _blurred(values: Array, reach: int) -> Array:
    """Return the mean over a square of side 2 · *reach* + 1, edges repeated."""
    for axis in (0, 1):
        pad = [(0, 0), (0, 0)]
        pad[axis] = (reach + 1, reach)
        total = np.cumsum(np.pad(values, pad, mode="edge"), axis=axis, dtype=np.float64)
        n = values.shape[axis]
        side = 2 * reach + 1
        values = ((total.take(range(side, side + n), axis) - total.take(range(n), axis)) / side).astype(np.float32)
    return values


def _cast(level: Array) -> Array:
    """Return 0…1: how far each pixel lies in the shadow of higher stones towards the sun."""
    shade = np.zeros_like(level)
    height, width = level.shape
    longest = int(LARGEST * height * 0.8)
    for step in range(1, longest, max(1, longest // 24)):
        dx, dy = round(step * 0.79), round(step * 0.61)
        part = level[: height - dy, : width - dx] - level[dy:, dx:] - np.float32(step * 1.04)
        np.maximum(shade[dy:, dx:], part, out=shade[dy:, dx:])
    return np.asarray(np.clip(shade / np.float32(1.0 + 0.0035 * height), 0, 1), np.float32)


def shingle(width: int, height: int, ink: Ink) -> Array:
    """Return the picture (h, w, 3), linear, white at 1."""
    rng = np.random.default_rng(5)
    beach = _empty(width, height, ink)
    stones = _stones(ink)
    shares = [0.30, 0.22, 0.17, 0.10, 0.07, 0.05, 0.09]
    # Sizes follow a power law; every half length is drawn until its share of the area is laid.
    area, wanted = 0.0, SAND * width / height
    sizes = []
    while area < wanted:
        half = SMALLEST * (1 - rng.random() * (1 - (SMALLEST / LARGEST) ** 1.25)) ** (-1 / 1.25)
        sizes.append(half)
        area += 2.4 * half * half
    # Large stones tend to lie on top: small ones fall into the gaps.
    order = np.argsort(np.log(sizes) + rng.normal(0.0, 0.75, len(sizes)))
    for half in np.array(sizes)[order]:
        _lay(beach, rng, half * height, stones[rng.choice(len(stones), p=shares)])
    near = _blurred(beach.level, max(2, int(0.008 * height))) - beach.level
    wide = _blurred(beach.level, max(3, int(0.03 * height))) - beach.level
    hidden = (np.clip(near, 0, None) * 16 + np.clip(wide, 0, None) * 9) / np.float32(height * 0.25)
    closed = np.clip(1 - hidden, 0.12, 1)
    normal = 1 / np.sqrt(1 + beach.slope_x**2 + beach.slope_y**2)
    lit = np.clip((LIGHT[2] - LIGHT[0] * beach.slope_x - LIGHT[1] * beach.slope_y) * normal, 0, 1)
    # Half way between the sun and the eye, for the shine of wet stones.
    half_way = np.array([LIGHT[0], LIGHT[1], LIGHT[2] + 1], np.float32)
    half_way = half_way / np.linalg.norm(half_way)
    facing = np.clip((half_way[2] - half_way[0] * beach.slope_x - half_way[1] * beach.slope_y) * normal, 0, 1)
    x = np.linspace(0, width / height, width, dtype=np.float32)[None, :]
    y = np.linspace(0, 1, height, dtype=np.float32)[:, None]
    tide = Octaves(longest=0.9, count=4, gain=0.5, seed=540).at(x, y, 1 / height)
    wet = smoothstep(-0.25, 0.25, y - np.float32(0.62) + np.float32(0.10) * tide + np.float32(0.12) * x)
    cast = _cast(beach.level)
    open_sun = lit * (1 - np.float32(0.9) * cast)
    light = ink(1.75, 1.62, 1.42) * open_sun[..., None] + ink(0.24, 0.29, 0.36) * (closed * normal**0.5)[..., None]
    rgb = beach.albedo * light * (1 - np.float32(0.45) * wet)[..., None]
    mirrored = facing**60 * np.float32(0.9) * (1 - cast) + np.float32(0.035) * (1 - normal) * closed
    shine = mirrored * wet * beach.gloss
    return np.asarray(rgb * closed[..., None] ** np.float32(0.6) + ink(1.0, 0.96, 0.9) * shine[..., None], np.float32)
