"""Boats: hulls as outlines between two edges, masts and rigging as thin lines."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from tests.scenario.arrays import Array, grid, mix, smoothstep
from tests.scenario.noise import Octaves
from tests.scenario.strokes import Line, band, draw, sagging

__all__ = ["Rig", "rigging"]


@dataclass(frozen=True, kw_only=True)
class Rig:
    """A one-masted boat seen from the side. Pixels unless said."""

    #: The mast's column
    x: float
    #: Row of the deck at the mast
    deck: float
    #: Height of the mast
    tall: float
    #: The height of the picture: widths of lines follow it
    unit: float
    seed: int
    #: 1 bow to the right, -1 to the left
    bow: int = 1

    @property
    def length(self) -> float:
        """Half of the hull's length."""
        return 0.42 * self.tall

    @property
    def water(self) -> float:
        """Row of the waterline."""
        return self.deck + 0.075 * self.tall

    def edges(self, x: Array) -> tuple[Array, Array]:
        """Return the hull's upper and lower edge (1, w) at columns *x*; they cross where there is no hull."""
        t = (x - np.float32(self.x)) / np.float32(self.length) * self.bow
        sheer = np.float32(self.deck) - (np.float32(0.030) * t**2 + np.float32(0.012) * t) * np.float32(self.tall)
        # The bow rakes forward, the stern stands nearly upright.
        rake = np.clip((t - np.float32(0.80)) / np.float32(0.22), 0, 1)
        keel = np.float32(self.water) - rake**1.5 * np.float32(0.125 * self.tall)
        stern = np.clip((np.float32(-0.88) - t) / np.float32(0.06), 0, 3)
        keel = np.where(np.abs(t) < 1.1, keel - stern * np.float32(0.12 * self.tall), sheer - 4)
        return sheer, np.asarray(keel, np.float32)

    def cabin(self, x: Array) -> tuple[Array, Array]:
        """Return the cabin's upper and lower edge (1, w) at columns *x*."""
        t = (x - np.float32(self.x)) / np.float32(self.length) * self.bow
        rise = smoothstep(-0.46, -0.43, t) * smoothstep(0.34, 0.20, t)
        roof = np.float32(self.deck) - rise * np.float32(0.052 * self.tall) + np.float32(0.004 * self.tall) * t
        return np.asarray(np.where(rise > 0, roof, np.float32(self.deck + 4)), np.float32), self.edges(x)[0] + 2

    def hull(self, cover: Array) -> None:
        """Fill hull and cabin into *cover* (h, w) in place."""
        x, y = grid(cover.shape[1], cover.shape[0])
        for top, bottom in (self.edges(x), self.cabin(x)):
            np.maximum(cover, band(y, top, bottom) * (bottom > top), out=cover)

    def paint(self, size: tuple[int, int], colours: tuple[Array, Array, Array]) -> tuple[Array, Array]:
        """Return the boat as colour (h, w, 3) and coverage (h, w) of a picture of *size* (w, h).

        *colours* (3,) are those of the hull, of the cabin and of wires and spars, in the light they have.
        """
        width, height = size
        x, y = grid(width, height)
        topsides, house, spar = colours
        rgb = np.broadcast_to(spar, (height, width, 3)).copy()
        cover = np.zeros((height, width), np.float32)
        draw(cover, rigging(self))
        roof, sill = self.cabin(x)
        walls = band(y, roof, sill) * (sill > roof)
        wall_light = 1 - np.float32(0.25) * (y > roof + np.float32(0.008 * self.tall))
        rgb = mix(rgb, house * wall_light[..., None], walls)
        for place in (-0.34, -0.22, -0.10, 0.02):
            middle = self.x + self.bow * place * self.length
            pane = np.clip(0.030 * self.length + 0.5 - np.abs(x - np.float32(middle)), 0, 1)
            pane = pane * band(y, self.deck - 0.036 * self.tall, self.deck - 0.018 * self.tall)
            rgb = mix(rgb, spar * np.float32(0.8), (pane * walls).astype(np.float32))
        sheer, keel = self.edges(x)
        hull = band(y, sheer, keel) * (keel > sheer)
        down = np.clip((y - sheer) / np.float32(0.11 * self.tall), 0, 1)
        worn = Octaves(longest=0.05, count=8, gain=0.8, seed=self.seed + 720, stretch=5.0)
        wear = worn.at(x / np.float32(self.unit), y / np.float32(self.unit), 1 / self.unit)
        # Planks: a fine dark seam between every two, and each a little lighter or darker.
        plank = down * np.float32(8.5)
        seam = np.exp(-(((plank - np.rint(plank)) / np.float32(0.045)) ** 2)) * np.float32(0.30)
        tone = 1 + np.float32(0.035) * wear + np.float32(0.05) * np.sin(np.floor(plank + np.float32(0.5)) * 7)
        side = topsides * ((np.float32(1.12) - np.float32(0.5) * down) * tone * (1 - seam))[..., None]
        rgb = mix(rgb, side, hull)
        rail = band(y, sheer, sheer + np.float32(0.009 * self.tall)) * hull
        boot = smoothstep(0.0, 1.0, y - np.float32(self.water - 0.016 * self.tall)) * hull
        rgb = mix(rgb, house * np.float32(0.95), rail)
        rgb = mix(rgb, spar * np.float32(0.7), boot)
        return rgb, np.maximum(np.maximum(cover, hull), walls).astype(np.float32)

    def lamp(self, width: int, height: int) -> Array:
        """Return the light (h, w) of a lit cabin window and its glow, about 1 at the window."""
        x, y = grid(width, height)
        cx = self.x - self.bow * 0.07 * self.tall
        cy = self.deck - 0.026 * self.tall
        across, down = np.abs(x - np.float32(cx)), np.abs(y - np.float32(cy))
        half = 0.011 * self.tall
        pane = np.clip(half + 0.5 - across, 0, 1) * np.clip(0.7 * half + 0.5 - down, 0, 1)
        glow = np.exp(-np.hypot(across, down) / np.float32(1.6 * half)) * np.float32(0.05)
        return np.asarray(pane + np.where(glow > 2e-4, glow, 0), np.float32)


def rigging(boat: Rig) -> list[Line]:
    """Return mast, spreaders, boom, stays, shrouds, halyards and the rail of *boat*."""
    rng = np.random.default_rng(boat.seed)
    x, foot, top, s = boat.x, boat.deck, boat.deck - boat.tall, boat.bow
    thin, wire = boat.unit * 0.00042, boat.unit * 0.00075
    bow, stern = x + s * boat.length * 0.98, x - s * boat.length * 0.90
    lines = [Line(x, foot, x, top, boat.unit * 0.0042, boat.unit * 0.0027)]
    lines += [Line(x, top, x, top - 0.035 * boat.tall, thin * 1.5, thin)]
    lines += sagging(Line(bow, foot - 0.045 * boat.tall, x, top + 0.01 * boat.tall, wire, wire), 0.006 * boat.tall)
    lines += sagging(Line(stern, foot - 0.02 * boat.tall, x, top, wire, wire), 0.004 * boat.tall)
    boom = foot - 0.115 * boat.tall
    end = x - s * boat.length * 0.76
    lines += [Line(x, boom, end, boom + 0.012 * boat.tall, boat.unit * 0.0030, boat.unit * 0.0026)]
    # The sail lies furled along the boom, in uneven folds.
    folds = np.linspace(0.04, 0.95, 46)
    fat = boat.unit * (0.0098 + 0.0016 * rng.standard_normal(46)) * np.sqrt(1.06 - folds)
    at = x + (end - x) * folds
    sail = boom - boat.unit * 0.005
    lines += [
        Line(float(a), sail, float(b), sail, float(v), float(w))
        for (a, v), (b, w) in itertools.pairwise(zip(at, fat, strict=True))
    ]
    lines += sagging(Line(end, boom, x, top + 0.03 * boat.tall, thin, thin), 0.010 * boat.tall)
    for share in (0.38, 0.70):
        y = foot - share * boat.tall
        half = 0.036 * boat.tall * (1.15 - 0.4 * share)
        lines += [Line(x - half, y + 1, x + half, y + 1, boat.unit * 0.0014, boat.unit * 0.0014)]
        for side in (-1, 1):
            tip = x + side * half
            lines += [Line(tip, y, x, y - 0.29 * boat.tall, wire, wire)]
            lines += [Line(x + side * 0.050 * boat.tall, foot, tip, y, wire, wire)]
    for _ in range(5):
        start = x + rng.uniform(-0.012, 0.012) * boat.tall
        high = foot - rng.uniform(0.72, 0.99) * boat.tall
        lines += sagging(Line(start, foot - 0.02 * boat.tall, x + rng.uniform(-2, 2), high, thin, thin), 0.3 * thin)
    return lines + _rail(boat, bow, stern)


def _rail(boat: Rig, bow: float, stern: float) -> list[Line]:
    """Return the posts along the deck and the two wires through them."""
    thin = boat.unit * 0.00040
    posts = np.linspace(stern, bow, 12)
    columns = posts[None, :].astype(np.float32)
    deck = boat.edges(columns)[0][0]
    tall = 0.052 * boat.tall
    feet = [(float(post), float(row)) for post, row in zip(posts, deck, strict=True)]
    lines = [Line(x, y, x, y - tall, thin * 2.2, thin * 2.2) for x, y in feet]
    for share in (0.5, 0.97):
        for (x0, y0), (x1, y1) in itertools.pairwise(feet):
            wire = Line(x0, y0 - share * tall, x1, y1 - share * tall, thin, thin)
            lines += sagging(wire, 0.02 * tall, 4)
    return lines
