"""Small pictures for the proof sheet: they exist only in a worker's pixels."""

from __future__ import annotations

import secrets
from pathlib import Path

from lanternslide.chain import Found, Rendering
from lanternslide.chain.findings import OUT_OF_GAMUT
from lanternslide.imaging.measuring.closeup import Box, sharpest
from lanternslide.imaging.measuring.proof import as_jpeg, outside_map, thumbnail, tones
from lanternslide.imaging.types import Array32, Bytes8
from lanternslide.records import Shown
from lanternslide.records.shown import AFTER, BEFORE, MAP, SMALL

__all__ = ["closeup_of", "write_proofs"]

CLOSEUP = (260, 390)
"""Height and width of what is shown at 1:1: a phone's width."""

SMALL_QUALITY, CLOSEUP_QUALITY = 82, 97
"""At 97 and with whole colours, what a second compression adds to a detail is not seen (common practice, no source)."""


def closeup_of(L: Array32) -> Box:
    """Return what is shown of a picture at 1:1, given its lightness."""
    return sharpest(L, *CLOSEUP)


def write_proofs(folder: Path, name: str, rendering: Rendering, seen: Bytes8, found: Found) -> Shown | None:
    """Write small pictures of a delivery into *folder* (their names begin with *name*); None if it does not take them.

    *seen* is the delivery, decoded again. A picture that is not there is no reason to stop a delivery.
    """
    closeup = rendering.closeup
    assert closeup is not None
    box, small = closeup.box, thumbnail(seen)
    pictures = {
        SMALL: as_jpeg(small, SMALL_QUALITY),
        BEFORE: as_jpeg(closeup.plain, CLOSEUP_QUALITY),
        AFTER: as_jpeg(seen[box.rows, box.columns], CLOSEUP_QUALITY),
    }
    has_map = rendering.out_of_gamut >= OUT_OF_GAMUT
    if has_map:
        pictures[MAP] = as_jpeg(outside_map(small, rendering.outside), SMALL_QUALITY)
    try:
        for ending, data in pictures.items():
            _put(folder / f"{name}{ending}", data)
    except OSError:
        return None
    return Shown(
        pictures=f"{folder.name}/{name}",
        thumbnail=(small.shape[1], small.shape[0]),
        closeup=(box.left, box.top, box.width, box.height),
        tones=tones(seen),
        tried=found.tried,
        has_map=has_map,
    )


def _put(path: Path, data: bytes) -> None:
    """Write a file all at once; not synced, since it can be done without."""
    # A job may run twice at once, where a worker was only thought to be lost.
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    temporary.write_bytes(data)
    temporary.replace(path)
