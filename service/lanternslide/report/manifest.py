"""What stands in a destination's folder, for site generators; the schema is `manifest.schema.json` beside this file."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from pathlib import PurePosixPath
from typing import Annotated, Any, Literal, cast
from urllib.parse import quote

from pydantic import ConfigDict, Field, TypeAdapter, with_config
from pydantic.json_schema import GenerateJsonSchema
from typing_extensions import TypedDict  # pydantic reads this one alone before Python 3.12

from lanternslide.records import About

__all__ = ["MANIFEST_FILE", "Standing", "is_manifest", "manifest_schema", "manifest_text"]

MANIFEST_FILE = "manifest.json"
MADE_BY: Literal["lanternslide"] = "lanternslide"
"""Tells a manifest of the service's own from somebody else's file."""

IN_MARKUP = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"})
"""Letters that could end a script or begin markup where a page quotes the manifest (they stand in strings alone)."""


# What a manifest holds, as its schema says it. They are types alone: what is written is not validated again.

SCHEMA_OF_FILE = {"pattern": r"^(?!/)(?!.*(^|/)\.{1,2}(/|$)).+\.[Jj][Pp][Ee]?[Gg]$"}
File = Annotated[str, Field(description="Path below the folder.", json_schema_extra=cast("Any", SCHEMA_OF_FILE))]
Pixels = Annotated[int, Field(ge=1)]


@with_config(ConfigDict(extra="forbid"))
class DensityEntry(TypedDict):
    density: Annotated[float, Field(ge=1, le=4)]
    file: File
    width: Pixels
    height: Pixels
    bytes: Annotated[int, Field(ge=1)]


@with_config(ConfigDict(extra="forbid"))
class RightsEntry(TypedDict):
    creator: str | None
    copyright: str | None
    usage_terms: str | None
    web_statement: str | None


@with_config(ConfigDict(extra="forbid"))
class PictureEntry(TypedDict):
    file: File
    width: Pixels
    height: Pixels
    bytes: Annotated[int, Field(ge=1)]
    photographer: str
    densities: Annotated[list[DensityEntry], Field(min_length=1)]
    srcset: Annotated[str, Field(description="Ready for the attribute of that name (escape it as any attribute).")]
    title: str | None
    description: str | None
    alt: str | None
    captured: Annotated[str, Field(json_schema_extra={"format": "date"})] | None
    rights: RightsEntry


@with_config(ConfigDict(extra="forbid", title="manifest.json of a destination"))
class Manifest(TypedDict):
    """What stands in a destination's folder.

    Paths are relative to it, with /. Texts are data: escape them before they become markup.
    """

    made_by: Literal["lanternslide"]
    version: Annotated[Literal[1], Field(description="Changes when a reader of this version would go wrong.")]
    pictures: list[PictureEntry]


class _WithoutTitles(GenerateJsonSchema):
    """Gives no field a title that only says its name once more."""

    def field_title_should_be_set(self, schema: Any) -> bool:  # noqa: ARG002 - as pydantic calls it
        return False


def manifest_schema() -> dict[str, Any]:
    """Return the JSON Schema of a manifest."""
    schema = TypeAdapter(Manifest).json_schema(schema_generator=_WithoutTitles)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


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
    pictures = sorted((_picture(list(items)) for _, items in groups), key=lambda picture: picture["file"])
    content: Manifest = {"made_by": MADE_BY, "version": 1, "pictures": pictures}
    return json.dumps(content, ensure_ascii=False, indent=1).translate(IN_MARKUP) + "\n"


def _picture(items: list[Standing]) -> PictureEntry:
    first = items[0]
    about = first.about
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
        "title": about.title,
        "description": about.description,
        "alt": about.alt,
        "captured": about.captured,
        "rights": {
            "creator": about.creator, "copyright": about.copyright,
            "usage_terms": about.usage_terms, "web_statement": about.web_statement,
        },
    }  # fmt: skip


def is_manifest(text: str) -> bool:
    """Return whether a file's *text* is a manifest of the service's own."""
    try:
        found = json.loads(text)
    except ValueError:
        return False
    return isinstance(found, dict) and found.get("made_by") == MADE_BY
