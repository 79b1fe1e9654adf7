"""manifest.json in a destination's folder: what a site generator reads of what stands there."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path, PurePosixPath
from typing import Any

import jsonschema  # type: ignore[import-untyped]
import pyexiv2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.records import About
from lanternslide.report import Standing, is_manifest, manifest_text
from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, Home, make_home, run, sweep, watching

SCHEMA = json.loads(files("lanternslide.report").joinpath("manifest.schema.json").read_text("utf-8"))
CONFIG = PLAIN.replace("box = [1920, 1080] }", "long_edge = 300 }\ndensities = [1, 2]\nmanifest = true").replace(
    'drop = "drop/ida"', 'drop = "drop/ida"\ncreator = "Ida Marrow"'
)
EVIL = '</script><img src=x onerror="x">&amp; " \u2028 ../../etc'


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home whose club keeps a manifest."""
    return make_home(tmp_path, CONFIG)


def manifest_of(home: Home) -> dict[str, Any]:
    """Return the club's manifest, which follows its schema."""
    found: dict[str, Any] = json.loads(home.out("club", "manifest.json").read_text("utf-8"))
    jsonschema.Draft202012Validator(SCHEMA, format_checker=jsonschema.FormatChecker()).validate(found)
    return found


def names(home: Home) -> list[str]:
    """Return the files of the pictures in the club's manifest."""
    return [picture["file"] for picture in manifest_of(home)["pictures"]]


def titled(path: Path, title: str) -> Path:
    """Write words and a date into an original."""
    with pyexiv2.Image(str(path)) as image:
        image.modify_xmp(
            {
                "Xmp.dc.title": {'lang="x-default"': title},
                "Xmp.dc.description": {'lang="x-default"': "Dawn, тюлень"},
                "Xmp.iptc.AltTextAccessibility": {'lang="x-default"': "A seal on a rock"},
                "Xmp.xmpRights.UsageTerms": {'lang="x-default"': "Ask first"},
                "Xmp.photoshop.City": "Skerrow Town",
            }
        )
        image.modify_exif({"Exif.Photo.DateTimeOriginal": "2026:05:14 04:12:00"})
    return path


def test_a_site_generator_finds_everything(home: Home) -> None:
    """File, sizes, densities, words, date, rights and a ready srcset; nothing of the place."""
    (home.drop() / "club" / "far isles").mkdir(parents=True)
    titled(save_jpeg(home.drop() / "club" / "far isles" / "grey, seal.jpg", 780, 540), EVIL)

    assert sweep(home).status == 0

    (picture,) = manifest_of(home)["pictures"]
    one, two = picture.pop("densities")
    sizes = {path: home.out("club", path).stat().st_size for path in (one["file"], two["file"])}
    assert one == {"density": 1, "file": "far isles/grey, seal.jpg", "width": 300, "height": 208,
                   "bytes": sizes[one["file"]]}  # fmt: skip
    assert two == {"density": 2, "file": "far isles/grey, seal-2x.jpg", "width": 600, "height": 415,
                   "bytes": sizes[two["file"]]}  # fmt: skip
    assert picture == {
        "file": "far isles/grey, seal.jpg", "width": 300, "height": 208, "bytes": sizes[one["file"]],
        "photographer": "ida", "srcset": "far%20isles/grey%2C%20seal.jpg 1x, far%20isles/grey%2C%20seal-2x.jpg 2x",
        "title": EVIL, "description": "Dawn, тюлень", "alt": "A seal on a rock", "captured": "2026-05-14",
        "rights": {"creator": "Ida Marrow", "copyright": None, "usage_terms": "Ask first", "web_statement": None},
    }  # fmt: skip
    raw = home.out("club", "manifest.json").read_bytes()
    assert b"Skerrow" not in raw
    assert b"<" not in raw
    assert b"&" not in raw


def test_what_is_withdrawn_or_deleted_leaves_it(home: Home) -> None:
    """And the file is written only when it changes."""
    first, second, third = (
        save_jpeg(home.drop() / f"{name}@club.jpg", 780, 540, seed=seed) for seed, name in enumerate("abc")
    )
    assert sweep(home).status == 0
    assert names(home) == ["a.jpg", "b.jpg", "c.jpg"]
    before = home.out("club", "manifest.json").stat()
    assert sweep(home).status == 0
    after = home.out("club", "manifest.json").stat()
    assert (after.st_ino, after.st_ctime_ns) == (before.st_ino, before.st_ctime_ns)

    assert run(home, "withdraw", first).status == 0
    home.out("club", "b.jpg").unlink()
    home.out("club", "b-2x.jpg").unlink()
    assert sweep(home).status == 0
    assert names(home) == ["c.jpg"]
    assert second.exists()

    with watching(home) as service:
        service.until_started()
        assert run(home, "withdraw", third).status == 0
        service.until(lambda: names(home) == [], "the empty manifest")
        save_jpeg(home.drop() / "d@club.jpg", 780, 540, seed=9)
        service.until(lambda: names(home) == ["d.jpg"], "the new one")
        assert service.stop() == 0
    assert not [path for path in home.out("club").iterdir() if path.name.startswith(".")]


def test_somebody_elses_manifest_is_not_written_over(home: Home) -> None:
    """It stays, deliveries are made, and what is in the way is said."""
    home.out("club").mkdir()
    foreign = home.out("club", "manifest.json")
    foreign.write_text('{"name": "a site"}')
    save_jpeg(home.drop() / "a@club.jpg", 780, 540)

    ran = sweep(home)

    assert ran.status == 3
    assert "the service did not write" in " ".join(ran.output.split())
    assert foreign.read_text() == '{"name": "a site"}'
    assert home.out("club", "a.jpg").exists()


def test_bare_pictures_have_no_words(home: Home) -> None:
    """What does not travel with the picture does not stand beside it."""
    home.config.write_text(CONFIG.replace("manifest = true", 'manifest = true\nmetadata = "bare"'))
    titled(save_jpeg(home.drop() / "a@club.jpg", 780, 540), "Seal")
    assert sweep(home).status == 0
    (picture,) = manifest_of(home)["pictures"]
    assert (picture["title"], picture["captured"], picture["rights"]["creator"]) == (None, None, None)


@given(title=st.text(max_size=40), stem=st.text("ab <>&\"'\\,\u2028é", min_size=1, max_size=10))
def test_any_words_are_data(title: str, stem: str) -> None:
    """Whatever a title says, it comes back as it was, and a page that quotes the manifest stays whole."""
    item = Standing(
        picture=("ida", stem), file=PurePosixPath(f"{stem}.jpg"), density=1, width=1, height=1, bytes=1,
        about=About(title=title),
    )  # fmt: skip

    text = manifest_text([item])

    assert is_manifest(text)
    assert json.loads(text)["pictures"][0]["title"] == title
    assert not set("<>&\u2028\u2029") & set(text)
    assert not set(" ,") & set(json.loads(text)["pictures"][0]["srcset"].removesuffix(" 1x"))


def test_the_schema_is_one() -> None:
    """It is valid itself, and refuses paths that lead out of the folder."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    path = {"$ref": "#/$defs/PictureEntry/properties/file", "$defs": SCHEMA["$defs"]}
    for good in ("a.jpg", "isles/a b.jpg", "a..b.jpeg"):
        jsonschema.validate(good, path)
    for bad in ("../a.jpg", "/a.jpg", "isles/../../a.jpg", "./a.jpg", "a.png"):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(bad, path)
