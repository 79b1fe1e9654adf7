"""The demo inbox: seven originals in the drop folders of two photographers."""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.scenario.encoding import codes8, codes16, jpeg, png, tiff16
from tests.scenario.notes import Notes, write_notes
from tests.scenario.pictures import PICTURES, picture

__all__ = ["ORIGINALS", "Original", "write_demo_inbox", "write_original"]

THUMBNAIL = 160
"""Longer side of an embedded thumbnail in pixels (Exif 2.32, 4.5.8: 160 × 120)."""


@dataclass(frozen=True, kw_only=True)
class Original:
    """One file of the demo inbox."""

    #: Below the inbox
    path: str
    #: The picture's name
    picture: str
    notes: Notes | None
    #: Of a JPEG
    quality: int = 0
    #: Pixels per inch as the file says, None for no such note
    dpi: int | None = None
    thumbnail: bool = False
    #: Part of the bytes that arrived
    kept: float = 1.0


def _ida(title: str, caption: str, keywords: tuple[str, ...], taken: str, orientation: int = 1) -> Notes:
    return Notes(
        author="Ida Marrow", title=title, caption=caption, keywords=(*keywords, "Skerrow Isles"), taken=taken,
        latitude="58/1 30/1 0/100", longitude="12/1 0/1 0/100", orientation=orientation,
    )  # fmt: skip


def _juno(title: str, caption: str, keywords: tuple[str, ...], taken: str) -> Notes:
    return Notes(
        author="Juno Pell", title=title, caption=caption, keywords=(*keywords, "Skerrow Isles"), taken=taken,
        latitude="58/1 31/1 1250/100", longitude="12/1 2/1 4000/100",
    )  # fmt: skip


ORIGINALS: tuple[Original, ...] = (
    Original(
        path="ida/kelp-ledges.jpg",
        picture="kelp-ledges",
        quality=87,
        dpi=300,
        thumbnail=True,
        notes=_ida(
            "Kelp ledges", "Ledges of grey rock with kelp at low water", ("rock", "kelp", "sea"), "2026:05:17 10:41:09"
        ),
    ),
    Original(
        path="ida/grey-seal@journal@club.tif",
        picture="grey-seal",
        dpi=300,
        notes=_ida(
            "Grey seal", "A grey seal on a skerry after sunset", ("seal", "dusk", "boat"), "2026:06:02 22:18:44"
        ),
    ),
    Original(
        path="ida/club/lighthouse-steps.jpg",
        picture="lighthouse-steps",
        quality=89,
        dpi=72,
        thumbnail=True,
        notes=_ida(
            "Lighthouse steps", "Stone steps up to the lighthouse", ("lighthouse", "steps"), "2026:06:11 15:03:27", 6
        ),
    ),
    Original(
        path="juno/journal/islands/harbour-rigging.jpg",
        picture="harbour-rigging",
        quality=91,
        notes=_juno("Harbour rigging", "Boats at rest before the quay", ("harbour", "boats"), "2026:07:21 08:12:30"),
    ),
    Original(path="juno/shingle@noticeboard.png", picture="shingle", notes=None),
    Original(
        path="juno/first-sketch@journal.jpg",
        picture="first-sketch",
        quality=88,
        dpi=72,
        notes=_juno("First sketch", "A thorn on the hill, small and early", ("thorn", "haze"), "2026:03:08 07:55:02"),
    ),
    Original(
        path="juno/torn-transfer.jpg",
        picture="torn-transfer",
        quality=85,
        dpi=300,
        kept=0.6,
        notes=_juno("Torn transfer", "Another thorn, on a clearer day", ("thorn", "haze"), "2026:03:09 08:20:15"),
    ),
)
"""The demo inbox, in the order of its making. The last one arrives torn on purpose."""


def write_demo_inbox(folder: Path, only: str | None = None, scale: float = 1.0) -> list[Path]:
    """Write the originals below *folder* and return their paths.

    Parameters
    ----------
    only
        The name of the one picture to write; None for all.
    scale
        Width and height relative to the demo inbox, for quick small ones.
    """
    chosen: Iterable[Original] = (o for o in ORIGINALS if only is None or o.picture == only)
    return [write_original(folder, original, scale) for original in chosen]


def write_original(folder: Path, original: Original, scale: float = 1.0) -> Path:
    """Draw and write one original below *folder*; return its path."""
    width, height = (max(16, round(side * scale)) for side in PICTURES[original.picture].size)
    space = PICTURES[original.picture].space
    path = folder / original.path
    path.parent.mkdir(parents=True, exist_ok=True)
    linear = picture(original.picture, width, height)
    if path.suffix == ".tif":
        path.write_bytes(tiff16(codes16(linear, space), space.profile(), original.dpi or 300))
    elif path.suffix == ".png":
        path.write_bytes(png(codes8(linear, space)))
    else:
        stored = _stored(codes8(linear, space), original.notes)
        path.write_bytes(jpeg(stored, space.profile(), original.quality, original.dpi))
    if original.notes is not None:
        write_notes(path, original.notes, _thumbnail(path) if original.thumbnail else None)
    if original.kept < 1:
        whole = path.read_bytes()
        path.write_bytes(whole[: int(len(whole) * original.kept)])
    return path


def _stored(codes: NDArray[np.uint8], notes: Notes | None) -> NDArray[np.uint8]:
    """Return *codes* as the camera stored them: orientation 6 is shown after a quarter turn to the right."""
    if notes is not None and notes.orientation == 6:
        return np.ascontiguousarray(np.rot90(codes, 1))
    return codes


def _thumbnail(path: Path) -> bytes:
    """Return a small JPEG of the picture as it is stored."""
    out = io.BytesIO()
    with Image.open(path) as image:
        image.thumbnail((THUMBNAIL, THUMBNAIL))
        Image.fromarray(np.asarray(image)).save(out, "JPEG", quality=80)
    return out.getvalue()
