"""The small drawings of a proof sheet, as paths for SVG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10, sqrt

from lanternslide.words import readable_bytes

__all__ = ["Cloud", "Plot", "Tick", "cloud_of", "ladder_of", "tone_path"]

TONE_HEIGHT = 24.0


def tone_path(tones: Sequence[int]) -> str:
    """Return the outline of a curve of tones in a box 64 wide and 24 high; roots, so that rare tones are seen."""
    most = max(max(tones, default=0), 1)
    heights = [TONE_HEIGHT * (1 - sqrt(count / most)) for count in tones]
    steps = " ".join(f"{x},{height:.1f} {x + 1},{height:.1f}" for x, height in enumerate(heights))
    return f"M0,{TONE_HEIGHT:g} L{steps} {len(tones)},{TONE_HEIGHT:g}Z"


@dataclass(frozen=True, kw_only=True, slots=True)
class Tick:
    """A mark on an axis."""

    at: float
    text: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Cloud:
    """The dots of one destination."""

    name: str
    path: str
    key: str  #: One of them, around the origin.
    round: bool  #: Whether it is a dot with a round end.


@dataclass(frozen=True, kw_only=True, slots=True)
class Plot:
    """Bytes (upwards) over quality (to the right) in a box of `WIDTH` by `HEIGHT`."""

    clouds: Sequence[Cloud]
    across: Sequence[Tick]
    up: Sequence[Tick]
    label: str


WIDTH, HEIGHT = 320.0, 150.0
SHAPES = (
    "M{x:.0f},{y:.0f}h0",
    "M{x0:.0f},{y0:.0f}l6,6m0,-6l-6,6",
    "M{x:.0f},{y0:.0f}v6m-3,-3h6",
    "M{x0:.0f},{y:.0f}l3,-3 3,3 -3,3z",
    "M{x0:.0f},{y0:.0f}h6v6h-6z",
    "M{x0:.0f},{y1:.0f}h6l-3,-6z",
)
"""A dot, crosses, a diamond, a square and a triangle: destinations differ by shape, not by colour alone."""


def cloud_of(points: Sequence[tuple[str, float, int]]) -> Plot | None:
    """Return the plot of deliveries: destination, likeness (SSIM) and bytes of each; None with fewer than two."""
    if len(points) < 2:
        return None
    least = min(max(min(likeness for _, likeness, _ in points), 0.0), 0.999)
    first = floor(least * 100) / 100
    most = _round_up(max(size for *_, size in points))
    clouds = []
    for number, name in enumerate(dict.fromkeys(name for name, *_ in points)):
        shape = SHAPES[number % len(SHAPES)]
        dots = (
            _dot(shape, WIDTH * max(likeness - first, 0) / (1 - first), HEIGHT * (1 - size / most))
            for whose, likeness, size in points
            if whose == name
        )
        path = "".join(dict.fromkeys(dots))
        clouds.append(Cloud(name=name, path=path, key=_dot(shape, 0, 0), round=shape == SHAPES[0]))
    return Plot(
        clouds=clouds,
        across=[Tick(at=WIDTH * share, text=f"{first + (1 - first) * share:.3g}") for share in (0, 0.5, 1)],
        up=[Tick(at=HEIGHT * (1 - share), text=readable_bytes(round(most * share))) for share in (0, 0.5, 1)],
        label="SSIM (1 is the finished picture)",
    )


def ladder_of(tried: Sequence[tuple[int, int]], chosen: int | None) -> Plot | None:
    """Return the plot of the qualities that were tried for one delivery; None if there was no search."""
    if len(tried) < 2:
        return None
    first, last = min(quality for quality, _ in tried), max(quality for quality, _ in tried)
    most = _round_up(max(size for _, size in tried))

    def cloud(name: str, shape: str, points: Sequence[tuple[int, int]]) -> Cloud:
        dots = (
            _dot(shape, WIDTH * (quality - first) / max(last - first, 1), HEIGHT * (1 - size / most))
            for quality, size in points
        )
        return Cloud(name=name, path="".join(dots), key=_dot(shape, 0, 0), round=shape == SHAPES[0])

    return Plot(
        clouds=[
            cloud("chosen", SHAPES[3], [point for point in tried if point[0] == chosen]),
            cloud("tried", SHAPES[0], [point for point in tried if point[0] != chosen]),
        ],
        across=[Tick(at=0, text=str(first)), Tick(at=WIDTH, text=str(last))],
        up=[Tick(at=HEIGHT * (1 - share), text=readable_bytes(round(most * share))) for share in (0, 0.5, 1)],
        label="JPEG quality",
    )


def _dot(shape: str, x: float, y: float) -> str:
    return shape.format(x=x, y=y, x0=x - 3, y0=y - 3, y1=y + 3)


def _round_up(size: int) -> int:
    """Return a round number that is not smaller."""
    step: int = 10 ** floor(log10(max(size, 1)))
    return next(ceil(step * part) for part in (1, 2, 2.5, 5, 10) if step * part >= size)
