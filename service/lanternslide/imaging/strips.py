"""Working through a plane in strips of rows that stay in the processor's cache, each with a halo of neighbours."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

__all__ = ["STRIP_ROWS", "Strip", "sample_of", "strips"]

STRIP_ROWS = 64
"""Rows of a strip; fixed, so that the same input gives the same bits."""

SAMPLE_PIXELS = 600_000


@dataclass(frozen=True, kw_only=True, slots=True)
class Strip:
    """Some rows of a plane."""

    core: slice  #: The rows, in the plane.
    outer: slice  #: The rows with their halo, in the plane; cut off at its edges.
    inner: slice  #: The rows, in what *outer* cuts out.


def strips(height: int, halo: int) -> Iterator[Strip]:
    """Yield the strips of a plane of *height* rows, from top to bottom, each with up to *halo* rows on either side.

    A filter that reaches no further than the halo, and that replicates edges, gives the same in strips as on the whole.
    """
    for top in range(0, height, STRIP_ROWS):
        bottom = min(top + STRIP_ROWS, height)
        first = max(0, top - halo)
        yield Strip(
            core=slice(top, bottom),
            outer=slice(first, min(height, bottom + halo)),
            inner=slice(top - first, bottom - first),
        )


def sample_of(found: Sequence[Strip], pixels: int) -> list[Strip]:
    """Return some of a plane's strips, from all over it: about 0.6 megapixels of one with more *pixels*."""
    every = min(max(1, round(pixels / SAMPLE_PIXELS)), len(found))
    return list(found[every // 2 :: every])
