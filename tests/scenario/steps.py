"""The lighthouse steps: stone stairs up a grassy slope to a banded tower, upright."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from tests.scenario.arrays import Array, Ink, grid, mix, smoothstep, window
from tests.scenario.noise import Octaves
from tests.scenario.relief import Camera, Ground, Patch, Sun, render
from tests.scenario.sky import Sky, clouded
from tests.scenario.strokes import Line, band, draw, sagging

__all__ = ["steps"]

SUN = Sun(toward=(-0.66, -0.36, 0.66), slope=0.85)
"""Afternoon, from the left and from behind the camera."""

TREAD, RISE = 0.36, 0.155
"""Depth and height of a step, metres."""

TOP = 26.0
"""Distance at which the steps end and the level ground of the tower begins, metres."""

EYE = 1.75
"""Height of the eye, metres."""


def _middle(d: Array) -> Array:
    """Return x of the path's middle at distance *d*: it swings once to the left and back."""
    swing = np.sin(d * np.float32(0.20) - np.float32(0.35)) * smoothstep(1.0, 14.0, d)
    return np.asarray(np.float32(0.25) - np.float32(1.5) * swing, np.float32)


def _path(x: Array, d: Array, wide: float = 0.86) -> Array:
    """Return 1 on the steps, 0 beside them; their ends are a little uneven."""
    ragged = Octaves(longest=0.8, count=3, gain=0.5, seed=801).at(x, d, 0.0) * np.float32(0.035)
    return smoothstep(wide + 0.03, wide - 0.03, np.abs(x - _middle(d)) + ragged)


def _slope(d: Array) -> Array:
    """Return the height of the hillside along the path, metres."""
    return np.asarray(np.minimum(d, np.float32(TOP)) * np.float32(RISE / TREAD * 0.52), np.float32)


def height_at(x: Array, d: Array, footprint: Array) -> Array:
    """Return the height of steps and grass over the camera's foot, metres."""
    worn = Octaves(longest=1.4, count=4, gain=0.5, seed=811).at(x, d, footprint)
    n = np.minimum(d, np.float32(TOP)) / np.float32(TREAD / 0.52) + np.float32(0.045) * worn
    whole = np.floor(n)
    # A riser, then a tread that the feet have hollowed in its middle.
    stair = (whole + smoothstep(0.0, 0.045, n - whole)) * np.float32(RISE)
    hollow = np.exp(-(((x - _middle(d)) / np.float32(0.40)) ** 2)) * np.float32(0.016)
    grain = Octaves(longest=0.35, count=9, gain=0.58, seed=821).at(x, d + stair, footprint)
    joints = Octaves(longest=1.1, count=1, seed=831).at(x * np.float32(1.8), whole * np.float32(2.7), footprint)
    joint = np.exp(-((joints / np.float32(0.035)) ** 2)) * np.float32(0.012)
    stone = stair - hollow - joint + np.float32(0.0052) * grain
    mounds = Octaves(longest=5.0, count=5, gain=0.45, seed=841).at(x, d, footprint)
    tufts = Octaves(longest=0.42, count=3, gain=0.55, seed=851).at(x, d, footprint)
    tips = Octaves(longest=0.055, count=4, gain=0.80, seed=861)
    blades = tips.at(x, d * np.float32(0.8), footprint * np.float32(0.6))
    bank = np.clip(np.abs(x - _middle(d)) - np.float32(0.8), 0, 4)
    rise = np.float32(0.136) * bank + np.float32(0.14) * mounds * np.minimum(bank, 1)
    grass = _slope(d) + np.float32(0.05) + rise
    grass = grass + np.float32(0.045) * tufts + np.float32(0.034) * blades
    on = _path(x, d)
    return np.asarray(grass + (stone - grass) * on, np.float32)


@dataclass(frozen=True, kw_only=True)
class _Colours:
    """The ground's colours in the space of the picture."""

    ink: Ink

    def __call__(self, p: Patch) -> Array:
        """Return the light of a patch: stone on the path, grass and thrift beside it."""
        ink = self.ink
        along = p.distance + p.height
        stain = Octaves(longest=0.9, count=9, gain=0.66, seed=871).at(p.x, along, p.footprint)
        stone = mix(ink(0.20, 0.185, 0.165), ink(0.42, 0.40, 0.365), smoothstep(-1.8, 1.8, stain))
        lichen = Octaves(longest=0.22, count=6, gain=0.65, seed=881).at(p.x, along, p.footprint)
        stone = mix(stone, ink(0.53, 0.36, 0.03), smoothstep(1.5, 1.9, lichen) * np.float32(0.5))
        moss = smoothstep(0.5, 0.86, np.abs(p.x - _middle(p.distance)) + np.float32(0.08) * stain)
        stone = mix(stone, ink(0.085, 0.11, 0.02), moss * np.float32(0.55))
        patches = Octaves(longest=2.2, count=4, gain=0.55, seed=891).at(p.x, p.distance, p.footprint)
        blade = Octaves(longest=0.05, count=3, gain=0.8, seed=895).at(p.x, p.distance, p.footprint * np.float32(0.6))
        dry = smoothstep(-1.0, 1.9, patches + np.float32(0.5) * blade)
        green = mix(ink(0.065, 0.135, 0.012), ink(0.27, 0.26, 0.075), dry)
        bloom = Octaves(longest=0.075, count=1, seed=899).at(p.x, p.distance, p.footprint * np.float32(0.5))
        drifts = Octaves(longest=1.9, count=3, gain=0.6, seed=901).at(p.x, p.distance, p.footprint)
        meadow = smoothstep(0.3, 1.2, drifts)
        pink = smoothstep(1.75, 2.1, bloom + np.float32(0.35) * meadow) * meadow
        green = mix(green, ink(0.62, 0.20, 0.40), pink * np.float32(0.9))
        albedo = mix(green, stone, _path(p.x, p.distance))
        lit = p.lit * (1 - np.float32(0.82) * p.shadow)
        steep = np.clip(1 / np.sqrt(1 + p.slope_x**2 + p.slope_y**2), 0.2, 1)
        light = ink(1.95, 1.80, 1.50) * lit[..., None] + ink(0.25, 0.31, 0.42) * steep[..., None]
        return np.asarray(albedo * light, np.float32)


def _tower(rgb: Array, foot: float, ink: Ink) -> None:
    """Lay the tower over *rgb* in place: white with two red bands, gallery, lantern with a glint, dome."""
    height, width = rgb.shape[:2]
    x, y = grid(width, height)
    unit = 0.42 * height
    cx = np.float32(0.565 * width)
    v = (np.float32(foot) - y) / np.float32(unit)
    half = np.float32(unit) * (np.float32(0.118) - np.float32(0.040) * np.clip(v, 0, 1))
    u = (x - cx) / half
    round_lit = np.sqrt(np.clip(1 - u**2, 0, 1)) * np.float32(0.62) - u * np.float32(0.60)
    plaster = Octaves(longest=0.10, count=9, gain=0.62, seed=911).at(u * np.float32(0.1), v, 1 / unit)
    runs = Octaves(longest=0.02, count=5, gain=0.7, seed=921).at(u * np.float32(0.1), v * np.float32(0.09), 1 / unit)
    stained = np.clip(runs, 0, 3)
    white = ink(0.80, 0.79, 0.755) * (1 + np.float32(0.022) * plaster - np.float32(0.035) * stained)[..., None]
    red = ink(0.74, 0.018, 0.004) * (1 + np.float32(0.05) * plaster - np.float32(0.05) * stained)[..., None]
    lower = smoothstep(0.238, 0.241, v) * smoothstep(0.412, 0.409, v)
    upper = smoothstep(0.592, 0.595, v) * smoothstep(0.752, 0.749, v)
    banded = np.maximum(lower, upper)
    paint = mix(white, red, np.broadcast_to(banded, u.shape))
    light = ink(1.12, 1.05, 0.92) * np.clip(round_lit, 0, 1)[..., None] + ink(0.13, 0.155, 0.20)
    wall = np.clip(half + np.float32(0.5) - np.abs(x - cx), 0, 1) * band(y, foot - 0.86 * unit, foot + 0.1 * unit)
    rgb[:] = mix(rgb, paint * light, wall)
    for up in (0.14, 0.48, 0.68):
        _window(rgb, (float(cx) + 0.012 * unit, foot - up * unit), 0.011 * unit, ink)
    _lantern(rgb, (float(cx), foot - 0.86 * unit), unit, ink)


def _window(rgb: Array, at: tuple[float, float], half: float, ink: Ink) -> None:
    """Lay a deep narrow window with a sill at *at* (column, row) into *rgb*."""
    cx, cy = at
    part, x, y = window(rgb, (cx - 3 * half, cy - 3 * half, cx + 3 * half, cy + 3 * half))
    open_ = np.clip(half + 0.5 - np.abs(x - np.float32(cx)), 0, 1) * band(y, cy - 1.7 * half, cy + 1.7 * half)
    sill = np.clip(1.5 * half + 0.5 - np.abs(x - np.float32(cx)), 0, 1) * band(y, cy + 1.7 * half, cy + 2.1 * half)
    reveal = np.clip(0.35 * half + 0.5 - np.abs(x - np.float32(cx + 0.65 * half)), 0, 1) * open_
    for colour, cover in (((0.018, 0.022, 0.03), open_), ((0.30, 0.29, 0.27), reveal), ((0.62, 0.6, 0.56), sill)):
        part[:] = mix(part, ink(*colour), cover.astype(np.float32))


def _lantern(rgb: Array, at: tuple[float, float], unit: float, ink: Ink) -> None:
    """Lay gallery, railing, glass, dome and rod with their foot at *at* (column, row) into *rgb*."""
    height, width = rgb.shape[:2]
    x, y = grid(width, height)
    cx, foot = at
    across = np.abs(x - np.float32(cx))

    def block(half: float, top: float, bottom: float) -> Array:
        side = np.clip(half * unit + 0.5 - across, 0, 1)
        return np.asarray(side * band(y, foot - top * unit, foot - bottom * unit), np.float32)

    shade = np.clip(np.float32(0.6) - (x - np.float32(cx)) / np.float32(0.09 * unit) * np.float32(0.5), 0.15, 1.1)
    iron = ink(0.055, 0.055, 0.06)
    rgb[:] = mix(rgb, ink(0.5, 0.49, 0.46) * shade[..., None], block(0.102, 0.016, -0.012))
    rgb[:] = mix(rgb, ink(0.23, 0.29, 0.33) * shade[..., None] + ink(0.05, 0.06, 0.07), block(0.050, 0.125, 0.016))
    dome = np.sqrt(np.clip(1 - (across / np.float32(0.060 * unit)) ** 2, 0, 1))
    cap = band(y, np.float32(foot - 0.125 * unit) - dome * np.float32(0.052 * unit), foot - 0.122 * unit) * (dome > 0)
    rgb[:] = mix(rgb, ink(0.60, 0.02, 0.006) * shade[..., None] + ink(0.02, 0.02, 0.025), cap)
    rgb[:] = mix(rgb, iron, _ironwork((height, width), (cx, foot), unit))
    spark = np.hypot(x - np.float32(cx - 0.022 * unit), y - np.float32(foot - 0.075 * unit)) / np.float32(0.0075 * unit)
    rgb[:] = rgb + ink(2.4, 1.9, 1.0) * (np.exp(-spark) + np.float32(0.05) * np.exp(-spark / 7))[..., None]


def _ironwork(shape: tuple[int, int], at: tuple[float, float], unit: float) -> Array:
    """Return the coverage of the lantern's glazing bars, the gallery's railing and the rod on the dome."""
    cover = np.zeros(shape, np.float32)
    cx, foot = at
    thin = 0.0011 * unit

    def upright(side: float, bottom: float, top: float, wide: float) -> Line:
        x = cx + side * unit
        return Line(x, foot - bottom * unit, x, foot - top * unit, wide, wide)

    def level(half: float, up: float) -> Line:
        return Line(cx - half * unit, foot - up * unit, cx + half * unit, foot - up * unit, thin, thin)

    bars = [upright(float(s), 0.016, 0.125, 1.7 * thin) for s in np.linspace(-0.050, 0.050, 7)]
    posts = [upright(float(s), 0.016, 0.060, thin) for s in 0.100 * np.sin(np.linspace(-1.5, 1.5, 21))]
    rings = [level(0.05, 0.052), level(0.05, 0.088), level(0.1, 0.038), level(0.1, 0.060)]
    draw(cover, [*bars, *posts, *rings, upright(0.0, 0.17, 0.235, 1.5 * thin)])
    return cover


def _handrail(camera: Camera) -> list[Line]:
    """Return the iron posts and the two hanging chains along the right side of the steps."""
    lines: list[Line] = []
    ends: list[tuple[float, float, float]] = []
    for d in np.arange(2.7, TOP - 1, 1.45):
        at = np.array([[d]], np.float32)
        x = float(_middle(at)[0, 0]) + 1.02
        z = float(_slope(at)[0, 0]) + 0.06
        column = camera.width / 2 + camera.focal * x / d
        row = camera.horizon + camera.focal * (EYE - z) / d
        tall = camera.focal * 0.92 / d
        lines.append(Line(column, row, column, row - tall, camera.focal * 0.034 / d, camera.focal * 0.030 / d))
        ends.append((column, row - tall, camera.focal / d))
    for (x0, y0, s0), (x1, y1, s1) in itertools.pairwise(ends):
        for drop in (0.05, 0.46):
            chain = Line(x0, y0 + drop * s0, x1, y1 + drop * s1, 0.017 * s0, 0.017 * s1)
            lines += sagging(chain, 0.10 * (s0 + s1) / 2)
    return lines


def steps(width: int, height: int, ink: Ink) -> Array:
    """Return the picture (h, w, 3), linear, white at 1."""
    horizon = 0.60 * height
    camera = Camera(width=width, height=height, horizon=horizon, focal=0.92 * width, eye=EYE, near=1.75, far=46.0)
    sky = Sky(horizon=ink(0.56, 0.68, 0.78), middle=ink(0.20, 0.39, 0.66), zenith=ink(0.045, 0.15, 0.42))
    sheet = Octaves(longest=2.0, count=9, gain=0.58, seed=930, stretch=1.5)
    rgb = clouded(sky, (width, height), horizon, sheet, (ink(0.93, 0.92, 0.90), 0.40))
    crest = horizon + camera.focal * (EYE - float(_slope(np.array([TOP], np.float32))[0])) / TOP
    _tower(rgb, crest + 0.01 * height, ink)
    rgb = render(camera, Ground(height=height_at, colour=_Colours(ink=ink), sun=SUN), rgb)
    cover = np.zeros((height, width), np.float32)
    draw(cover, _handrail(camera))
    return mix(rgb, ink(0.045, 0.040, 0.038), cover)
