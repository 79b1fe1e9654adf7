"""Kelp ledges: tilted strata of wet rock running into the sea, an islet and broken cloud behind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.scenario.arrays import Array, Ink, mix, smoothstep
from tests.scenario.noise import Octaves, ripples
from tests.scenario.relief import Camera, Ground, Patch, Sun, render
from tests.scenario.sky import Ridge, Sky, clouded, ridge

__all__ = ["ledges"]

SUN = Sun(toward=(-0.72, 0.28, 0.63), slope=0.62)
"""Late morning, from the left and a little from behind the scene."""

WAVES = Octaves(longest=5.0, count=9, gain=0.72, seed=300, stretch=2.2)
"""Slopes of the sea, metres."""


def _level(x: Array, d: Array, footprint: Array) -> Array:
    """Return where in the strata a point lies: a tilted plane with broad folds, metres."""
    folds = Octaves(longest=9.0, count=5, gain=0.5, seed=11).at(x, d * np.float32(0.6), footprint)
    shore = np.float32(0.98) - d * np.float32(0.056) - x * np.float32(0.055)
    # A gully lets the sea in between two noses of rock.
    gully = np.exp(-(((x - np.float32(0.6) - d * np.float32(0.05)) / np.float32(1.1)) ** 2)) * np.float32(0.42)
    return np.asarray(shore + np.float32(0.34) * folds - gully * smoothstep(4.0, 9.0, d), np.float32)


def rock_height(x: Array, d: Array, footprint: Array) -> Array:
    """Return the height of the rock over the sea in metres: beds with worn edges, joints and grain."""
    level = _level(x, d, footprint)
    beds = np.float32(0.19)
    n = level / beds + Octaves(longest=1.3, count=4, gain=0.5, seed=31).at(x, d, footprint) * np.float32(0.2)
    whole = np.floor(n)
    stepped = (whole + smoothstep(0.61, 0.97, n - whole)) * beds
    slanted = x * np.float32(1.6) + d * np.float32(0.5)
    joints = Octaves(longest=2.3, count=3, gain=0.6, seed=51).at(slanted, d, footprint)
    crack = np.exp(-((joints / np.float32(0.07)) ** 2)) * np.float32(0.06)
    # Over a steep face the grain runs on with its height: else every face would hang in curtains.
    along = d + np.float32(1.2) * stepped
    grain = Octaves(longest=0.5, count=9, gain=0.56, seed=71).at(x, along, footprint) * np.float32(0.011)
    pits = Octaves(longest=0.09, count=5, gain=0.7, seed=91, ridged=True)
    pitted = pits.at(x, along, footprint) * np.float32(0.0022)
    return np.asarray(np.float32(0.82) * stepped + np.float32(0.18) * level - crack + grain + pitted, np.float32)


def _surface(x: Array, d: Array, footprint: Array) -> Array:
    """Return the height of rock or water, whichever is higher, metres."""
    swell = Octaves(longest=7.0, count=4, gain=0.5, seed=301, stretch=2.6).at(x, d, footprint)
    return np.asarray(np.maximum(rock_height(x, d, footprint), np.float32(0.022) * swell), np.float32)


@dataclass(frozen=True, kw_only=True)
class _Colours:
    """The scene's colours in the space of the picture."""

    ink: Ink
    sky: Sky

    def rock(self, p: Patch) -> Array:
        """Return the light from the rock: pale when dry, dark and olive with weed near the water."""
        ink = self.ink
        # On steep faces the stains run over the height, or they would be drawn out into streaks.
        along = p.distance + np.float32(1.9) * p.height
        stain = Octaves(longest=1.7, count=9, gain=0.62, seed=120).at(p.x, along, p.footprint)
        layers = Octaves(longest=0.11, count=5, gain=0.8, seed=180, stretch=14.0)
        layer = layers.at(
            p.x, p.height * np.float32(1.2) + p.distance * np.float32(0.03), p.footprint * np.float32(0.5)
        )
        steep = smoothstep(0.25, 1.1, np.hypot(p.slope_x, p.slope_y))
        bare = mix(ink(0.27, 0.235, 0.20), ink(0.43, 0.40, 0.36), smoothstep(-1.6, 1.8, stain))
        bare = bare * (1 + np.float32(0.17) * (steep * np.clip(layer, -2.5, 2.5)))[..., None]
        lichen = Octaves(longest=0.35, count=6, gain=0.62, seed=140).at(p.x, along, p.footprint)
        spots = smoothstep(1.45, 1.9, lichen + np.float32(0.25) * stain) * smoothstep(0.5, 0.8, p.height)
        bare = mix(bare, ink(0.52, 0.30, 0.02), spots * np.float32(0.65))
        wet = smoothstep(0.52, 0.25, p.height + np.float32(0.06) * stain)
        bare = bare * (1 - np.float32(0.66) * wet[..., None])
        strands = Octaves(longest=0.16, count=6, gain=0.75, seed=160, stretch=1.6)
        fronds = strands.at(p.x, along * np.float32(0.7), p.footprint)
        weed = smoothstep(0.30, 0.12, p.height + np.float32(0.07) * stain + np.float32(0.02) * fronds)
        kelp = mix(ink(0.030, 0.020, 0.004), ink(0.26, 0.13, -0.012), smoothstep(-0.6, 2.2, fronds))
        albedo = mix(bare, kelp, weed)
        light = p.lit * (1 - np.float32(0.86) * p.shadow)
        sun = ink(2.15, 1.95, 1.62) * light[..., None]
        open_sky = np.clip(1 / np.sqrt(1 + p.slope_x**2 + p.slope_y**2), 0.25, 1)
        rgb = albedo * (sun + ink(0.27, 0.34, 0.46) * open_sky[..., None])
        # Wet faces mirror the sky, or the sun where they lean towards it.
        shine = np.clip(1 - 5 * np.hypot(p.slope_x + np.float32(0.22), p.slope_y - np.float32(0.12)), 0, 1) ** 3
        gloss = np.maximum(wet, weed) * shine * (1 - p.shadow)
        return np.asarray(rgb + ink(0.95, 0.92, 0.86) * (gloss * np.float32(0.5))[..., None], np.float32)

    def water(self, p: Patch, depth: Array) -> Array:
        """Return the light from the sea: mirrored sky, its own green body, glints and foam at the rock."""
        ink = self.ink
        # Short waves are steep near by; far away only their mean remains.
        sx, sy = ripples(WAVES, p.x, p.distance, p.footprint)
        gaze = np.float32(2.7) / p.distance
        lean = np.clip(gaze + np.float32(0.055) * sy, 0.02, 1)
        fresnel = np.float32(0.02) + np.float32(0.98) * (1 - lean) ** 5
        mirrored = self.sky.at(np.clip(lean * np.float32(1.1), 0.0, 1.2)) * np.float32(0.86)
        clear = np.exp(-depth * np.float32(2.4))
        body = mix(ink(-0.006, 0.070, 0.092), ink(0.075, 0.135, 0.085), clear)
        rgb = mix(body, mirrored, fresnel)
        aside = np.float32(2.2) * (p.x / p.distance + np.float32(0.1))
        glint = smoothstep(2.0, 3.8, np.float32(0.8) * sy - np.float32(0.5) * sx - aside)
        rgb = rgb + ink(1.5, 1.4, 1.2) * (glint * smoothstep(3.0, 20.0, p.distance))[..., None]
        lace = Octaves(longest=0.8, count=8, gain=0.68, seed=330, ridged=True).at(p.x, p.distance, p.footprint)
        surge = Octaves(longest=3.4, count=3, gain=0.5, seed=350, stretch=1.8).at(p.x, p.distance, p.footprint)
        near_rock = np.exp(-depth * np.float32(5.0)) + np.float32(0.16) * surge
        foam = smoothstep(0.15, 1.0, near_rock + np.float32(0.42) * lace - np.float32(0.25))
        caps = smoothstep(2.7, 3.6, surge + sy * np.float32(0.7)) * smoothstep(14.0, 40.0, p.distance)
        return mix(rgb, ink(0.80, 0.83, 0.84), np.maximum(foam * np.float32(0.92), caps * np.float32(0.6)))

    def __call__(self, p: Patch) -> Array:
        """Return the light of a patch: rock above the water, water elsewhere, air before both."""
        bed = rock_height(p.x, p.distance, p.footprint)
        under = np.maximum(p.height - bed, 0)
        cover = smoothstep(0.0, 0.006, under)
        rgb = mix(self.rock(p), self.water(p, under), cover)
        air = 1 - np.exp(-p.distance / np.float32(900.0))
        return mix(rgb, self.ink(0.60, 0.69, 0.76), np.broadcast_to(air, p.x.shape))


def ledges(width: int, height: int, ink: Ink) -> Array:
    """Return the picture (h, w, 3), linear, white at 1."""
    horizon = 0.36 * height
    camera = Camera(width=width, height=height, horizon=horizon, focal=0.8 * width, eye=2.7, near=2.1, far=4000.0)
    sky = Sky(horizon=ink(0.74, 0.78, 0.80), middle=ink(0.30, 0.47, 0.66), zenith=ink(0.10, 0.23, 0.46))
    sheet = Octaves(longest=2.6, count=9, gain=0.56, seed=210, stretch=1.7)
    behind = clouded(sky, (width, height), horizon, sheet, (ink(0.92, 0.91, 0.90), 0.62))
    air = ink(0.60, 0.69, 0.76)
    far = Ridge(tall=0.030, span=(-0.2, 0.55), hump=0.30, seed=400, haze=0.78)
    islet = Ridge(tall=0.062, span=(0.60, 1.02), hump=0.22, seed=431, haze=0.42)
    ridge(behind, far, horizon + 1, ink(0.10, 0.11, 0.09), air)
    ridge(behind, islet, horizon + 2, ink(0.13, 0.135, 0.075), air)
    return render(camera, Ground(height=_surface, colour=_Colours(ink=ink, sky=sky), sun=SUN), behind)
