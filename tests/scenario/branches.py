"""Bare trees: branches that divide again and again, down to twigs thinner than a pixel."""

from __future__ import annotations

import math

import numpy as np

from tests.scenario.arrays import Array
from tests.scenario.strokes import Line, draw

__all__ = ["crown", "tree"]

PIECES = 5
"""Straight pieces of a limb."""

LAYERS = 8
"""Coverages that twigs are drawn into in turn: where many cross, the crown grows dense."""


def crown(size: tuple[int, int], branches: list[Line]) -> Array:
    """Return the coverage (h, w) of *branches*: pieces of a limb join, different limbs add up."""
    width, height = size
    clear = np.ones((height, width), np.float32)
    for layer in range(LAYERS):
        cover = np.zeros((height, width), np.float32)
        draw(cover, [line for i, line in enumerate(branches) if i // PIECES % LAYERS == layer])
        clear *= 1 - cover
    return 1 - clear


def tree(foot: tuple[float, float], tall: float, seed: int, wind: float = 0.5) -> list[Line]:
    """Return the branches of a tree that the wind has bent.

    Parameters
    ----------
    foot
        Column and row of the trunk's foot, pixels.
    tall
        About its height, pixels.
    wind
        How far it leans: positive to the right.
    """
    rng = np.random.default_rng(seed)
    lines: list[Line] = []
    waiting = [(foot[0], foot[1], -math.pi / 2 + 0.25 * wind, tall * 0.27, tall * 0.046, 0)]
    while waiting:
        x, y, angle, length, thick, depth = waiting.pop()
        x, y, angle, thick = _limb(lines, rng, (x, y, angle, length, thick), wind)
        if depth == 9 or length < tall * 0.012:
            continue
        for side in _forks(rng, depth):
            # A fork keeps the cross-section of its limb, about (Leonardo's rule).
            share = rng.uniform(0.56, 0.84)
            turn = side * rng.uniform(0.24, 0.62) + rng.normal(0.0, 0.10)
            reach = length * rng.uniform(0.66, 0.90)
            waiting.append((x, y, angle + turn, reach, max(thick * share, tall * 0.0013), depth + 1))
    return lines


def _forks(rng: np.random.Generator, depth: int) -> tuple[float, ...]:
    """Return the directions of the forks at a limb's end: two or three, one nearly straight on now and then."""
    if depth < 7 and rng.random() < 0.42:
        return (-1.0, 0.12, 1.0)
    return (-1.0, 1.0)


def _limb(
    lines: list[Line], rng: np.random.Generator, limb: tuple[float, float, float, float, float], wind: float
) -> tuple[float, float, float, float]:
    """Add one crooked limb to *lines*; return its end: column, row, angle and thickness."""
    x, y, angle, length, thick = limb
    for _ in range(PIECES):
        angle += rng.normal(0.0, 0.13)
        # The wind presses towards the level, the light draws up again.
        angle += 0.045 * (wind * 0.9 * math.sin(-angle) - 0.5 * math.cos(angle))
        x1 = x + math.cos(angle) * length / PIECES
        y1 = y + math.sin(angle) * length / PIECES
        lines.append(Line(x, y, x1, y1, thick, thick * 0.95))
        x, y, thick = x1, y1, thick * 0.95
    return x, y, angle, thick
