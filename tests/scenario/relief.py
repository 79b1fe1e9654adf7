"""A height field seen by a camera, with hillshade, cast shadows and hidden surfaces.

The ground is evaluated on a grid of columns × distances that is even in 1 / distance, so it is even on
the screen; each column then keeps, for every row, the first distance at which the ground rises into view.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.scenario.arrays import Array

__all__ = ["Camera", "Ground", "Patch", "Sun", "render"]

SLAB = 96
"""Distances that are evaluated at once: their arrays stay in the processor's cache."""

SUBROWS = 2
"""Samples per pixel down a column; crests run across, so their edges need it."""


@dataclass(frozen=True, kw_only=True)
class Camera:
    """Where the picture is taken from. Lengths on the screen in pixels, in the world in metres."""

    width: int
    height: int
    #: Row of the horizon
    horizon: float
    #: Focal length in pixels
    focal: float
    #: Height of the eye above z = 0 of the ground
    eye: float
    #: Distance of the nearest ground that is drawn
    near: float
    #: Distance at which the ground ends
    far: float

    def distances(self) -> Array:
        """Return the distances of the grid (n,), near to far, even in 1 / distance."""
        rows = self.focal * self.eye * (1 / self.near - 1 / self.far)
        count = int(min(max(rows, self.height / 2) * 1.15, self.height * 1.6))
        return np.asarray(1 / np.linspace(1 / self.near, 1 / self.far, count), np.float32)

    def across(self, distance: Array) -> Array:
        """Return x in metres (n, w) of every column at each *distance* (n, 1)."""
        u = np.arange(self.width, dtype=np.float32)[None, :] + np.float32(0.5 - self.width / 2)
        return u * (distance / np.float32(self.focal))

    def footprint(self, distance: Array) -> Array:
        """Return the size of a pixel on flat ground, metres: the geometric mean of across and along."""
        return np.asarray(distance / self.focal * np.sqrt(np.maximum(distance / self.eye, 1)), np.float32)


@dataclass(frozen=True, kw_only=True)
class Sun:
    """A light from the left: *toward* is the unit vector to it (x right, y away from us, z up)."""

    toward: tuple[float, float, float]
    #: Tangent of its height as seen along x; cast shadows run to the right
    slope: float


@dataclass(frozen=True, kw_only=True)
class Patch:
    """The ground at some of the grid: arrays (n, w) unless said."""

    x: Array
    #: (n, 1)
    distance: Array
    #: (n, 1)
    footprint: Array
    height: Array
    #: Slopes along x and along the distance
    slope_x: Array
    slope_y: Array
    #: Cosine between the normal and the sun, 0…1
    lit: Array
    #: 0 in the open, 1 in a cast shadow
    shadow: Array


@dataclass(frozen=True, kw_only=True)
class Ground:
    """A surface: its height and what light it sends to the camera."""

    #: (x, distance, footprint) → height in metres
    height: Callable[[Array, Array, Array], Array]
    #: Patch → linear colour (n, w, 3)
    colour: Callable[[Patch], Array]
    sun: Sun


def render(camera: Camera, ground: Ground, behind: Array) -> Array:
    """Return *behind* (h, w, 3) with *ground* in front of it, a new array."""
    distance = camera.distances()
    rise, rgb = _evaluate(camera, ground, distance)
    np.maximum.accumulate(rise, axis=1, out=rise)
    sub = (np.arange(camera.height * SUBROWS, dtype=np.float32) + np.float32(0.5)) / SUBROWS
    out = np.empty_like(behind)
    steps = np.arange(len(distance), dtype=np.float32)
    for column in range(camera.width):
        # np.interp wants rising abscissae; rows count down from the top, hence the minus.
        k = np.interp(-sub, rise[column], steps)
        i = k.astype(np.intp)
        j = np.minimum(i + 1, len(distance) - 1)
        part = (k - i).astype(np.float32)[:, None]
        seen = rgb[i, column] * (1 - part) + rgb[j, column] * part
        above = (-sub > rise[column, -1])[:, None]
        seen = np.where(above, np.repeat(behind[:, column], SUBROWS, axis=0), seen)
        out[:, column] = seen.reshape(camera.height, SUBROWS, 3).mean(axis=1)
    return _softened(out)


def _evaluate(camera: Camera, ground: Ground, distance: Array) -> tuple[Array, Array]:
    """Return minus the screen row (w, n) and the colour (n, w, 3) of the ground at every distance."""
    count = len(distance)
    rise = np.empty((camera.width, count), np.float32)
    rgb = np.empty((count, camera.width, 3), np.float32)
    for start in range(0, count, SLAB):
        stop = min(start + SLAB, count)
        low, high = max(start - 1, 0), min(stop + 1, count)
        d = distance[low:high, None]
        inner = slice(start - low, stop - low)
        patch = _patch(camera, ground, d, inner)
        row = camera.horizon + camera.focal * (camera.eye - patch.height) / patch.distance
        rise[:, start:stop] = -row.T
        rgb[start:stop] = ground.colour(patch)
    return rise, rgb


def _patch(camera: Camera, ground: Ground, d: Array, inner: slice) -> Patch:
    """Evaluate heights, slopes and light at distances *d* (n, 1); keep the rows *inner*."""
    x = camera.across(d)
    footprint = camera.footprint(d)
    z = ground.height(x, d, footprint)
    slope_x = np.gradient(z, axis=1) * (np.float32(camera.focal) / d)
    step = np.gradient(d, axis=0)
    # Along a column x grows with the distance: take its share out again.
    slope_y = np.gradient(z, axis=0) / step - slope_x * (x / d)
    sx, sy, sz = ground.sun.toward
    lit = (sz - sx * slope_x - sy * slope_y) / np.sqrt(1 + slope_x * slope_x + slope_y * slope_y)
    beam = z + x * np.float32(ground.sun.slope)
    behind = np.maximum.accumulate(beam, axis=1) - beam
    soft = np.float32(0.02) + footprint * 3
    return Patch(
        x=x[inner],
        distance=d[inner],
        footprint=footprint[inner],
        height=z[inner],
        slope_x=slope_x[inner],
        slope_y=slope_y[inner],
        lit=np.clip(lit, 0, 1)[inner].astype(np.float32),
        shadow=np.clip(behind / soft, 0, 1)[inner].astype(np.float32),
    )


def _softened(rgb: Array) -> Array:
    """Return *rgb* after a light blur across, weights 1 6 1: the spread of a good lens, and no stairs."""
    out = rgb * np.float32(0.75)
    out[:, 1:-1] += np.float32(0.125) * (rgb[:, :-2] + rgb[:, 2:])
    out[:, (0, -1)] += np.float32(0.25) * rgb[:, (0, -1)]
    return out
