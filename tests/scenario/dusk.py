"""Dusk over the sound: a smooth sky in 16 bits, ridges in haze, a seal on a skerry, a moored boat's rigging."""

from __future__ import annotations

import itertools

import numpy as np

from tests.scenario.arrays import Array, Ink, grid, mix, smoothstep
from tests.scenario.boats import Rig, rigging
from tests.scenario.noise import Octaves
from tests.scenario.sky import Ridge, Sky, ridge
from tests.scenario.strokes import Line, band, draw
from tests.scenario.water import Mirror

__all__ = ["dusk"]

HORIZON = 0.62
"""Row of the horizon, in heights of the picture."""


def _glow(width: int, height: int, ink: Ink) -> Array:
    """Return the sky (h, w, 3): three broad colours by height, and the glow where the sun went down."""
    sky = Sky(horizon=ink(0.92, 0.43, 0.13), middle=ink(0.36, 0.22, 0.24), zenith=ink(0.035, 0.07, 0.17))
    x, y = grid(width, height)
    e = np.maximum(np.float32(HORIZON) - y / np.float32(height), 0)
    aside = x / np.float32(width) - np.float32(0.36)
    near = np.exp(-(aside**2) * 7 - e * np.float32(5.5))
    return np.asarray(sky.at(e) * np.float32(0.80) + ink(0.42, 0.17, -0.005) * near[..., None], np.float32)


def _mirrored(rgb: Array, foot: int, ink: Ink) -> None:
    """Fill *rgb* below row *foot* in place: the mirrored sky, drawn down and darkened, in long low swells."""
    height, width = rgb.shape[:2]
    x, y = grid(width, height - foot)
    near = y / np.float32(height - foot)
    distance = np.float32(1.0) / np.maximum(near, np.float32(0.004))
    across = (x / np.float32(width) - np.float32(0.5)) * distance * 6
    waves = Octaves(longest=3.4, count=5, gain=0.6, seed=620, stretch=4.0)
    pixel = distance * distance / np.float32(height - foot) * 3
    lean = waves.at(across, distance * 6, pixel)
    row = np.clip(foot - 2 - y * np.float32(1.05) - lean * near * np.float32(0.055 * height), 0, foot - 1)
    source = rgb[row.astype(np.intp), np.broadcast_to(np.arange(width)[None, :], row.shape)]
    depth = smoothstep(0.0, 1.3, near + np.float32(0.05) * lean * near)
    rgb[foot:] = mix(source * np.float32(0.80), ink(0.010, 0.022, 0.040), depth)


def _skerry(x: Array, height: int) -> Array:
    """Return the height (1, w) of the skerry over the water, in heights of the picture."""
    t = x / np.float32(height)
    rough = Octaves(longest=0.10, count=8, gain=0.52, seed=640).at(t, np.zeros_like(t), 1 / height)
    rim = smoothstep(0.15, 0.27, t) * smoothstep(0.62, 0.44, t)
    return np.asarray(np.float32(0.020) * rim * (1 + np.float32(0.20) * rough), np.float32)


SEAL = (
    (0.2920, 0.0400, 0.0020),
    (0.3020, 0.0300, 0.0075),
    (0.3200, 0.0240, 0.0170),
    (0.3450, 0.0265, 0.0330),
    (0.3780, 0.0300, 0.0400),
    (0.4030, 0.0340, 0.0310),
    (0.4170, 0.0440, 0.0215),
    (0.4265, 0.0520, 0.0190),
    (0.4400, 0.0525, 0.0100),
)
"""The seal from tail to nose: column, height over the water and thickness, in heights of the picture."""


def _seal(water: float, height: int) -> list[Line]:
    points = [(t * height, water - z * height, w * height) for t, z, w in SEAL]
    return [Line(a[0], a[1], b[0], b[1], a[2], b[2]) for a, b in itertools.pairwise(points)]


def _wet_skerry(rgb: Array, ink: Ink) -> Array:
    """Return *rgb* with the skerry, the seal on it and their mirror image."""
    height, width = rgb.shape[:2]
    x, y = grid(width, height)
    water = (HORIZON + 0.135) * height
    top = np.float32(water) - _skerry(x, height) * np.float32(height)
    cover = band(y, top, water) * (water - top > 0.5)
    draw(cover, _seal(water, height))
    solid = cover.copy()
    Mirror.below((width, height), water, seed=660, calm=1.3).fill(cover)
    grain = Octaves(longest=0.03, count=6, gain=0.7, seed=680)
    texture = 1 + np.float32(0.3) * grain.at(x / np.float32(height), y / np.float32(height) * 2, 1 / height)
    # The last light lies along the upper edges.
    lower = np.zeros_like(solid)
    reach = max(1, round(0.0012 * height))
    lower[reach:] = solid[:-reach]
    rim = np.clip(solid - lower, 0, 1)
    rock = ink(0.013, 0.012, 0.014) * np.clip(texture, 0.3, 2)[..., None] + ink(0.09, 0.048, 0.022) * rim[..., None]
    return mix(rgb, rock, cover)


def dusk(width: int, height: int, ink: Ink) -> Array:
    """Return the picture (h, w, 3), linear, white at 1."""
    rgb = _glow(width, height, ink)
    foot = round(HORIZON * height)
    air = ink(0.80, 0.40, 0.16)
    hills = (
        (Ridge(tall=0.050, span=(-0.30, 0.62), hump=0.34, seed=600, haze=0.72), ink(0.10, 0.07, 0.09)),
        (Ridge(tall=0.075, span=(0.40, 1.35), hump=0.42, seed=611, haze=0.52), ink(0.06, 0.045, 0.06)),
        (Ridge(tall=0.040, span=(0.66, 1.30), hump=0.25, seed=607, haze=0.22), ink(0.030, 0.024, 0.033)),
    )
    for hill, ground in hills:
        ridge(rgb, hill, foot, ground, air)
    _mirrored(rgb, foot, ink)
    rgb = _wet_skerry(rgb, ink)
    boat = Rig(x=0.80 * width, deck=0.745 * height, tall=0.60 * height, unit=height, seed=7)
    cover = np.zeros((height, width), np.float32)
    draw(cover, rigging(boat))
    boat.hull(cover)
    Mirror.below((width, height), boat.water, seed=707, calm=1.3).fill(cover)
    rgb = mix(rgb, ink(0.013, 0.012, 0.015), cover)
    lamp = boat.lamp(width, height)
    return np.asarray(rgb + ink(1.2, 0.62, 0.14) * lamp[..., None], np.float32)
