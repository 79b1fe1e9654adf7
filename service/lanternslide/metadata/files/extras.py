"""What an original's file holds beside its picture, which no delivery carries: found, and never read out.

Only headers are read, and the rest is sought over. Everything is bounded: a file that was made to mislead costs little.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from io import SEEK_END
from pathlib import Path
from typing import Any, Literal

from lanternslide.metadata.files.containers import PNG, RIFF, TIFF
from lanternslide.metadata.files.extra_kinds import Extra, PlacedFile
from lanternslide.metadata.files.extras_in_jpeg import SOI, extras_in_jpeg
from lanternslide.metadata.keys import is_foreign

__all__ = ["Extra", "extras_of"]

# Bounds, all of them choices.
MOST_CHUNKS = 100_000
"""Chunks of PNG or WebP; a PNG of 800 MB has as many in pieces of 8 KB."""

MOST_PAGES, MOST_TAGS = 1_000, 1_000
"""Directories of a TIFF, and the tags of one."""


def extras_of(path: Path, xmp: Mapping[str, Any]) -> tuple[Extra, ...]:
    """Return what the file at *path* holds beside its picture, each once; *xmp* are its fields, by their keys.

    Raises
    ------
    OSError
        If the file cannot be read.
    """
    found = set(_said(xmp))
    with path.open("rb", buffering=0) as stream:
        file = PlacedFile(stream, stream.seek(0, SEEK_END))
        head = file.at(0, 12)
        for beginnings, search in SEARCHES:
            if head.startswith(beginnings):
                found.update(search(file))
    if Extra.CREDENTIALS in found:
        found.discard(Extra.REMOTE_CREDENTIALS)
    return tuple(extra for extra in Extra if extra in found)


# XMP

VOCABULARIES = {
    "Xmp.hdrgm.": Extra.GAIN_MAP,
    "Xmp.HDRGainMap.": Extra.GAIN_MAP,
    "Xmp.GImage.": Extra.VIEWS,
    "Xmp.GAudio.": Extra.SOUND,
    "Xmp.mwg-kw.": Extra.KEYWORD_TREE,
}
"""Vocabularies that are there for one thing only: gain maps; the other eye's picture, and sound (Cardboard Camera VR
Photo Format); hierarchies of keywords (Metadata Working Group 2.0)."""

CONTAINERS = ("Xmp.Container.", "Xmp.ContainerDD.")
SEMANTICS = {"gainmap": Extra.GAIN_MAP, "motionphoto": Extra.VIDEO}
KINDS_OF_DATA = {"video": Extra.VIDEO, "audio": Extra.SOUND}
"""What lies in the file behind the picture: Item:Semantic and Item:Mime (Ultra HDR Image Format 1.0, GContainer;
Motion Photo format 1.0, container metadata)."""

MARKS_OF_VIDEO = frozenset({"Xmp.GCamera.MotionPhoto", "Xmp.GCamera.MicroVideo"})
"""They are 1 where a video is behind the picture (Motion Photo format 1.0, camera metadata)."""

REMOTE = "Xmp.dcterms.provenance"
REMOTE_ADDRESS = re.compile(r"\s*https?://", re.IGNORECASE)
"""C2PA 2.3, 11.5. Other texts in this field tell of a work's owners (DCMI Metadata Terms), or point into the file."""

TREES, TREE_PART, LEVELS = frozenset({"hierarchicalsubject", "tagslist"}), "hierarch", ("|", "/")
"""Names of fields in no published vocabulary that hold paths of keywords, and what parts their levels (practice)."""

BETWEEN_NAMES = re.compile(r"[./:]")


def _said(xmp: Mapping[str, Any]) -> Iterator[Extra]:
    """Yield what the XMP says that the file holds."""
    for key, value in xmp.items():
        texts = [text.strip().casefold() for text in _texts(value)]
        yield from (extra for beginning, extra in VOCABULARIES.items() if key.startswith(beginning))
        name = BETWEEN_NAMES.split(key)[-1].casefold()
        if key.startswith(CONTAINERS) and name in ("semantic", "mime"):
            yield from (SEMANTICS[text] for text in texts if text in SEMANTICS)
            kinds = [text.partition("/")[0] for text in texts if "/" in text]
            yield from (KINDS_OF_DATA[kind] for kind in kinds if kind in KINDS_OF_DATA)
        elif key in MARKS_OF_VIDEO and "1" in texts:
            yield Extra.VIDEO
        elif key == REMOTE and any(map(REMOTE_ADDRESS.match, texts)):
            yield Extra.REMOTE_CREDENTIALS
        elif _holds_tree(key, name, texts):
            yield Extra.KEYWORD_TREE


def _holds_tree(key: str, name: str, texts: list[str]) -> bool:
    if name not in TREES and TREE_PART not in name:
        return False
    return is_foreign(key) and any(level in text for level in LEVELS for text in texts)


def _texts(value: Any) -> list[str]:
    """Return the texts of a field: one, a list, or by their languages."""
    if isinstance(value, Mapping):
        value = list(value.values())
    return [str(item) for item in value] if isinstance(value, list) else [str(value)]


# Other formats

STORE_IN_PNG, STORE_IN_TIFF, STORE_IN_WEBP = b"caBX", 52545, b"C2PA"
"""Where a store of manifests is (C2PA 2.1, annex A: PNG; TIFF, in whatever directory; RIFF)."""

ANIMATION, END_OF_PNG = b"acTL", b"IEND"
"""PNG third edition: how many frames there are (11.3.6.1), and the end (11.2.5). Sections from memory, not checked."""

FRAME = b"ANMF"
"""A frame of an animated WebP (RFC 9649, 2.7.1.1; the section from memory, not checked)."""


def _in_png(file: PlacedFile) -> Iterator[Extra]:
    place = len(PNG)
    for _ in range(MOST_CHUNKS):
        head = file.at(place, 8)
        length, kind = int.from_bytes(head[:4]), head[4:]
        if len(head) < 8 or kind == END_OF_PNG:
            return
        if kind == STORE_IN_PNG and length:
            yield Extra.CREDENTIALS
        elif kind == ANIMATION and int.from_bytes(file.at(place + 8, min(length, 4))) > 1:
            yield Extra.FRAMES
        place += 12 + length


def _in_webp(file: PlacedFile) -> Iterator[Extra]:
    place, frames = 12, 0
    for _ in range(MOST_CHUNKS):
        head = file.at(place, 8)
        length, kind = int.from_bytes(head[4:], "little"), head[:4]
        if len(head) < 8:
            return
        frames += kind == FRAME
        if kind == STORE_IN_WEBP and length:
            yield Extra.CREDENTIALS
        elif kind == FRAME and frames == 2:
            yield Extra.FRAMES
        place += 8 + length + length % 2


def _in_tiff(file: PlacedFile) -> Iterator[Extra]:
    """Yield what the tags of all directories say (TIFF 6.0, section 2; BigTIFF has longer numbers)."""
    head = file.at(0, 16)
    order: Literal["little", "big"] = "little" if head.startswith(b"II") else "big"
    wide, counter, entry = (8, 8, 20) if 43 in head[2:4] else (4, 2, 12)
    wanted = STORE_IN_TIFF.to_bytes(2, order)
    place = int.from_bytes(head[wide : 2 * wide], order)
    for _ in range(MOST_PAGES):
        amount = int.from_bytes(file.at(place, counter), order)
        tags = file.at(place + counter, min(amount, MOST_TAGS) * entry)
        for at in range(0, len(tags), entry):
            if tags[at : at + 2] == wanted and any(tags[at + 4 : at + 4 + wide]):
                yield Extra.CREDENTIALS
        place = int.from_bytes(file.at(place + counter + amount * entry, wide), order)
        if not place:
            return


SEARCHES: tuple[tuple[bytes | tuple[bytes, ...], Callable[[PlacedFile], Iterator[Extra]]], ...] = (
    (SOI, extras_in_jpeg),
    (PNG, _in_png),
    (RIFF, _in_webp),
    (TIFF, _in_tiff),
)
"""How files begin, and what is looked for in them."""
