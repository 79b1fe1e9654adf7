"""What stands in a destination's folder, for site generators; the schema is `manifest.schema.json` beside this file."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from itertools import groupby
from pathlib import PurePosixPath
from urllib.parse import quote

from lanternslide.records import About

__all__ = ["MANIFEST_FILE", "Standing", "is_manifest", "manifest_text"]

MANIFEST_FILE = "manifest.json"
MADE_BY = "lanternslide"
"""Tells a manifest of the service's own from somebody else's file."""

IN_MARKUP = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"})
"""Letters that could end a script or begin markup where a page quotes the manifest (they stand in strings alone)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """One delivery that stands."""

    picture: tuple[str, str]  #: Photographer, and path below the drop folder: what densities of one picture share.
    file: PurePosixPath  #: Below the destination's folder.
    density: float
    width: int
    height: int
    bytes: int
    about: About


def manifest_text(standing: Iterable[Standing]) -> str:
    """Return the manifest of what stands in one folder, in the order of the files' names; metadata is data in it."""
    groups = groupby(sorted(standing, key=lambda item: (item.picture, item.density)), key=lambda item: item.picture)
    pictures = sorted((_picture(list(items)) for _, items in groups), key=lambda picture: str(picture["file"]))
    content = {"made_by": MADE_BY, "version": 1, "pictures": pictures}
    return json.dumps(content, ensure_ascii=False, indent=1).translate(IN_MARKUP) + "\n"


def _picture(items: list[Standing]) -> dict[str, object]:
    first = items[0]
    about = asdict(first.about)
    rights = {name: about.pop(name) for name in ("creator", "copyright", "usage_terms", "web_statement")}
    return {
        "file": str(first.file),
        "width": first.width,
        "height": first.height,
        "bytes": first.bytes,
        "photographer": first.picture[0],
        "densities": [
            {
                "density": item.density, "file": str(item.file),
                "width": item.width, "height": item.height, "bytes": item.bytes,
            }
            for item in items
        ],
        # An address without blanks or commas, which part the candidates (HTML Standard, 4.8.4.2.1, srcset attributes).
        "srcset": ", ".join(f"{quote(str(item.file), safe='/@')} {item.density:g}x" for item in items),
        **about,
        "rights": rights,
    }  # fmt: skip


def is_manifest(text: str) -> bool:
    """Return whether a file's *text* is a manifest of the service's own."""
    try:
        found = json.loads(text)
    except ValueError:
        return False
    return isinstance(found, dict) and found.get("made_by") == MADE_BY
