"""What stands in a destination's folder, for site generators."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import PurePosixPath
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]

from lanternslide.records import About
from lanternslide.report import Standing, is_manifest, manifest_text
from tests.support.ship import SCHEMA as SHIPPED
from tests.support.ship import schema_text

SCHEMA = Draft202012Validator(
    json.loads(files("lanternslide.report").joinpath("manifest.schema.json").read_text("utf-8"))
)


def standing(
    file: str, *, picture: str = "seal.tif", owner: str = "ida", density: float = 1, width: int = 60,
    about: About | None = None,
) -> Standing:  # fmt: skip
    """Return a delivery that stands."""
    return Standing(
        picture=(owner, picture), file=PurePosixPath(file), density=density, width=width, height=40, bytes=1000,
        about=about or About(),
    )  # fmt: skip


def manifest(*items: Standing) -> dict[str, Any]:
    """Return the manifest, which follows its schema."""
    content: dict[str, Any] = json.loads(manifest_text(items))
    SCHEMA.validate(content)
    return content


def test_a_folder_in_which_nothing_stands() -> None:
    """It is a manifest all the same."""
    assert manifest() == {"made_by": "lanternslide", "version": 1, "pictures": []}


def test_a_picture_with_all_that_is_known() -> None:
    """The file and its figures, the words of its metadata, and its rights apart."""
    about = About(
        title="Grey seal", description="On a skerry.", alt="A seal", captured="2026-05-01", creator="Ida Marrow",
        copyright="© 2026 Ida Marrow", usage_terms="Ask.", web_statement="https://skerrow.example",
    )  # fmt: skip

    (picture,) = manifest(standing("isles/seal.jpg", about=about))["pictures"]

    assert picture == {
        "file": "isles/seal.jpg", "width": 60, "height": 40, "bytes": 1000, "photographer": "ida",
        "densities": [{"density": 1, "file": "isles/seal.jpg", "width": 60, "height": 40, "bytes": 1000}],
        "srcset": "isles/seal.jpg 1x",
        "title": "Grey seal", "description": "On a skerry.", "alt": "A seal", "captured": "2026-05-01",
        "rights": {
            "creator": "Ida Marrow", "copyright": "© 2026 Ida Marrow", "usage_terms": "Ask.",
            "web_statement": "https://skerrow.example",
        },
    }  # fmt: skip


def test_densities_of_a_picture_stand_together() -> None:
    """Smallest first, which is the picture itself; whatever the order in which they come."""
    (picture,) = manifest(
        standing("seal-2x.jpg", density=2, width=120), standing("seal-1.5x.jpg", density=1.5, width=90),
        standing("seal.jpg"),
    )["pictures"]  # fmt: skip

    assert (picture["file"], picture["width"]) == ("seal.jpg", 60)
    assert [item["density"] for item in picture["densities"]] == [1, 1.5, 2]
    assert picture["srcset"] == "seal.jpg 1x, seal-1.5x.jpg 1.5x, seal-2x.jpg 2x"


def test_pictures_come_in_the_order_of_their_files() -> None:
    """Not of their originals; two photographers' originals of one name are two pictures."""
    found = manifest(
        standing("c.jpg", picture="a.tif"), standing("a.jpg", picture="z.tif"),
        standing("b.jpg", picture="a.tif", owner="juno"),
    )["pictures"]  # fmt: skip

    assert [(item["file"], item["photographer"]) for item in found] == [
        ("a.jpg", "ida"), ("b.jpg", "juno"), ("c.jpg", "ida"),
    ]  # fmt: skip


def test_a_srcset_can_be_read_with_any_name() -> None:
    """Blanks and commas part its candidates (HTML Standard, 4.8.4.2.1), so they are written as %20 and %2C."""
    (picture,) = manifest(standing("isles, north/seal a@2x%.jpg"))["pictures"]

    assert picture["srcset"] == "isles%2C%20north/seal%20a@2x%25.jpg 1x"
    assert picture["file"] == "isles, north/seal a@2x%.jpg"


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=30))
def test_any_words_are_data(text: str) -> None:
    """They come back as they were, and nothing in the file could end a script or begin markup where it is quoted."""
    content = manifest_text([standing("x.jpg", about=About(title=text))])

    assert json.loads(content)["pictures"][0]["title"] == text
    assert not set("<>&\u2028\u2029") & set(content)


@pytest.mark.parametrize(
    ("text", "ours"),
    [
        (manifest_text([]), True),
        ('{"made_by": "lanternslide", "version": 9}', True),
        ('{"made_by": "somebody"}', False),
        ("{}", False),
        ('["made_by", "lanternslide"]', False),
        ('"lanternslide"', False),
        ("", False),
        ("{", False),
    ],
)
def test_somebody_elses_file_is_known(text: str, *, ours: bool) -> None:
    """It is never written over, whatever it holds."""
    assert is_manifest(text) is ours


def test_the_schema_that_is_shipped_is_the_types_own() -> None:
    """Whoever changes what a manifest holds writes it anew: `python -m tests.support.ship`."""
    assert json.loads(SHIPPED.read_text("utf-8")) == json.loads(schema_text())
