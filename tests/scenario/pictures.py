"""The scenario's pictures by name, at any size."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from tests.scenario.arrays import Array, Ink
from tests.scenario.dusk import dusk
from tests.scenario.harbour import harbour
from tests.scenario.hilltop import hilltop
from tests.scenario.ledges import ledges
from tests.scenario.shingle import shingle
from tests.scenario.spaces import ADOBE, P3, ROMM, SRGB, Space
from tests.scenario.steps import steps

__all__ = ["PICTURES", "Picture", "picture"]


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A picture that can be drawn: at what size it stands in the demo inbox, and in which space."""

    #: (width, height, ink) → linear light (h, w, 3)
    draw: Callable[[int, int, Ink], Array]
    #: Width and height as shown
    size: tuple[int, int]
    space: Space


PICTURES: dict[str, Picture] = {
    "kelp-ledges": Picture(draw=ledges, size=(6000, 4000), space=ADOBE),
    "grey-seal": Picture(draw=dusk, size=(3450, 2300), space=ROMM),
    "lighthouse-steps": Picture(draw=steps, size=(3000, 4500), space=P3),
    "harbour-rigging": Picture(draw=harbour, size=(4800, 3200), space=SRGB),
    "shingle": Picture(draw=shingle, size=(1800, 1200), space=SRGB),
    "first-sketch": Picture(draw=hilltop, size=(900, 600), space=SRGB),
    "torn-transfer": Picture(draw=partial(hilltop, seed=9), size=(2400, 1600), space=SRGB),
}
"""Every picture, under the stem of its file."""


def picture(name: str, width: int, height: int) -> Array:
    """Return the picture *name* as linear light (h, w, 3) in its own space, float32, white at 1.

    Glints lie above 1 and colours outside the space a little below 0; encoding clips both. The
    composition is the same at every size of the same shape; detail always reaches down to the pixel.
    """
    if name not in PICTURES:
        raise KeyError(f"no picture {name!r}; there are {', '.join(PICTURES)}")
    chosen = PICTURES[name]
    return chosen.draw(width, height, chosen.space.ink)
