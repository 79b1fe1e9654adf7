"""Skies, layered ridges in haze, and what the water shows of the sky."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.scenario.arrays import Array, grid, mix, smoothstep
from tests.scenario.noise import Octaves
from tests.scenario.strokes import band

__all__ = ["Ridge", "Sky", "clouded", "ridge"]


@dataclass(frozen=True, kw_only=True)
class Sky:
    """A clear sky: colours (3,) from the horizon up."""

    horizon: Array
    middle: Array
    zenith: Array

    def at(self, elevation: Array) -> Array:
        """Return the colour (..., 3) at *elevation*, in heights of the picture above the horizon."""
        e = np.maximum(elevation, 0)
        low = np.exp(-e * np.float32(9.0))
        half = np.exp(-e * np.float32(2.2))
        rgb = mix(np.broadcast_to(self.zenith, (*e.shape, 3)), self.middle, half)
        return mix(rgb, self.horizon, low)


def clouded(sky: Sky, size: tuple[int, int], horizon: float, sheet: Octaves, cloud: tuple[Array, float]) -> Array:
    """Return a sky (h, w, 3) with broken cloud on a level sheet above us.

    Parameters
    ----------
    size, horizon
        Width and height in pixels, and the horizon's row.
    sheet
        The cloud's pattern, in heights of the sheet above the eye.
    cloud
        The colour (3,) of the cloud's lit parts, and the density 0…1 at which half of the sky is covered.
    """
    width, height = size
    x, y = grid(width, height)
    e = np.maximum((np.float32(horizon) - y) / np.float32(height), np.float32(0.012))
    depth = np.float32(0.5) / e
    across = (x / np.float32(height) - np.float32(width / height / 2)) * depth
    # A pixel covers more of the sheet the nearer it is to the horizon.
    footprint = depth * depth / np.float32(height) * 2
    density = sheet.at(across, depth, footprint)
    colour, cover = cloud
    amount = smoothstep(0.9 - 1.6 * cover, 2.2 - 1.6 * cover, density) * np.clip(e * 14, 0, 1)
    rgb = sky.at(e + np.zeros_like(x))
    thick = smoothstep(0.8, 2.6, density)
    shaded = colour * (1 - np.float32(0.42) * thick[..., None])
    return mix(rgb, shaded, amount * np.float32(0.9))


@dataclass(frozen=True, kw_only=True)
class Ridge:
    """One line of hills, seen through air. Lengths in heights of the picture."""

    #: Height of the tops over the foot
    tall: float
    #: Where the crest is: its left end, its right end, in widths of the picture (may lie outside)
    span: tuple[float, float]
    #: Wavelength of the largest humps
    hump: float
    seed: int
    #: 0 near … 1 lost in the haze
    haze: float


def ridge(rgb: Array, hill: Ridge, foot: float, ground: Array, air: Array) -> None:
    """Lay *hill* over *rgb* (h, w, 3) in place, its foot at row *foot*.

    *ground* (3,) is the colour of its slopes, *air* (3,) the light that the air before them sends.
    """
    height, width = rgb.shape[:2]
    x, y = grid(width, height)
    t = x / np.float32(width)
    start, end = hill.span
    rim = smoothstep(start, start + 0.22 * (end - start), t) * smoothstep(end, end - 0.3 * (end - start), t)
    across = x / np.float32(height)
    line = Octaves(longest=hill.hump, count=9, gain=0.46, seed=hill.seed)
    humps = line.at(across, np.zeros_like(across), 1 / height)
    top = np.float32(foot) - rim * np.float32(hill.tall * height) * (1 + np.float32(0.28) * humps)
    top = np.where(rim > 0, top, np.float32(foot + 2))
    first = max(0, int(top.min()) - 2)
    last = min(height, int(foot) + 2)
    rows = y[first:last]
    cover = band(rows, top, foot)
    u = across + np.zeros_like(rows)
    v = rows / np.float32(height) * 2
    # Gullies run down from the crest: the pattern hangs on it, and leans to the light.
    down = (v - np.asarray(top, np.float32) / np.float32(height) * np.float32(1.2)).astype(np.float32)
    slopes = Octaves(longest=min(hill.hump / 3, 0.14), count=9, gain=0.68, seed=hill.seed + 20, ridged=True)
    gullies = slopes.at(u + down * np.float32(0.5), down * np.float32(0.8), 1 / height)
    relief = np.clip(1 + np.float32(0.42) * gullies, 0.2, 2.4)
    # Haze lies thickest at the foot of a hill.
    low = 1 - np.clip((np.float32(foot) - rows) / np.float32(hill.tall * height), 0, 1)
    thick = np.clip(np.float32(hill.haze) + (1 - np.float32(hill.haze)) * np.float32(0.35) * low, 0, 1)
    shown = mix(ground * relief[..., None], air, thick)
    rgb[first:last] = mix(rgb[first:last], shown, cover)
