"""Recipes as the ledger knows them: what is wanted, and what was made otherwise."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from pathlib import Path

import pytest

from lanternslide.config import ResolvedPhotographer, load_settings, resolve
from lanternslide.delivery.recipes import is_same_recipe, recipes_for, wanted_by
from lanternslide.intake import route
from lanternslide.records import Recipe, Rights, Sharpening, SizeRule, Watermark

CONFIG = """
[photographers.ida]
drop = "drop"
otherwise = ["club"]

[destinations.club]
folder = "out"
size = { long_edge = 100 }

[destinations.journal]
folder = "blog"
size = { long_edge = 200 }
densities = [1, 1.5, 3]
"""


def ida(folder: Path) -> ResolvedPhotographer:
    """Return Ida, who delivers to the club and to a journal."""
    config = folder / "lanternslide.toml"
    config.write_text(CONFIG, "utf-8")
    return resolve(load_settings(config))["ida"]


def test_each_density_is_a_delivery(tmp_path: Path) -> None:
    """In the order of the tags, each with all its densities."""
    owner = ida(tmp_path)
    routing = route(Path("seal@journal@club.jpg"), owner.names)

    found = [(place.name, place.recipe.size.values, density) for place, density in recipes_for(owner, routing)]

    assert found == [("journal", (200,), 1), ("journal", (200,), 1.5), ("journal", (200,), 3), ("club", (100,), 1)]


# What the ledger knows


def stored(how: Recipe, *, without: str | None = None) -> str:
    """Return a recipe as the ledger has it, as if one setting had not been there yet."""
    return json.dumps({name: value for name, value in asdict(how).items() if name != without})


FULL = Recipe(
    size=SizeRule(rule="box", values=(1920, 1080)), sharpening=Sharpening(), quality=90, chroma="4:4:4",
    progressive=True, slug=True, metadata="rights", mark=Watermark(text="Ida"),
)  # fmt: skip


# Written by version 0.1.0 for the config below it.
STORED = """{
    "brightness": 2.0, "chroma": "4:4:4", "clip": false, "contrast": 0,
    "forecast": {"chroma": "4:2:0", "long_edge": 900, "quality": 75}, "keep_location": false, "keep_serials": false,
    "mark": {"corner": "lower right", "font": null, "height": 0.05, "image": null, "margin": 0.03, "opacity": 0.6,
             "text": "Ida Marrow"},
    "max_bytes": null, "metadata": "whole", "min_quality": null, "min_ssim": null, "name": "{stem}.jpg",
    "progressive": true, "quality": 88,
    "rights": {"contact": null, "copyright": null, "creator": "Ida Marrow", "override": false},
    "sharpening": {"finish": null, "lead": {"amount": 100, "blend": 1, "radius": 1.0}, "ratio": 2.0, "steps": 2,
                   "strength": 1.0},
    "size": {"enlarge": false, "rule": "long_edge", "values": [1050]}, "slug": false
}"""
ITS_CONFIG = """
[photographers.ida]
drop = "drop"
creator = "Ida Marrow"

[destinations.club]
folder = "out"
size = { long_edge = 1050 }
quality = 88
tone = { brightness = 2 }
sharpen = { strength = 1, steps = 2, ratio = 2, lead = { radius = 1 } }
watermark = { text = "Ida Marrow", height = 0.05 }
forecast = { long_edge = 900 }
"""


def test_recipes_of_existing_ledgers_are_known_again(tmp_path: Path) -> None:
    """Their names and values are a promise: with others, everything that was delivered would be made again."""
    config = tmp_path / "lanternslide.toml"
    config.write_text(ITS_CONFIG, "utf-8")
    now = resolve(load_settings(config))["ida"].destinations["club"].stored_recipe

    assert is_same_recipe(now, STORED)
    assert json.loads(now).keys() == json.loads(STORED).keys()


def test_a_recipe_is_the_same_however_it_is_written() -> None:
    """The order of its keys does not count."""
    backwards = json.dumps(dict(reversed(asdict(FULL).items())))

    assert is_same_recipe(stored(FULL), backwards)


@pytest.mark.parametrize(
    "change",
    [
        {"quality": 89},
        {"size": SizeRule(rule="box", values=(1920, 1081))},
        {"sharpening": Sharpening(strength=0.9)},
        {"slug": False},
        {"mark": None},
        {"rights": Rights(creator="Juno Pell")},
    ],
)
def test_any_other_setting_makes_another_recipe(change: dict[str, object]) -> None:
    """Also one inside a table of settings, and one that goes back to its default."""
    other = replace(FULL, **change)  # type: ignore[arg-type]

    assert not is_same_recipe(stored(FULL), stored(other))
    assert is_same_recipe(stored(other), stored(other))


@pytest.mark.parametrize(
    ("missing", "is_same"), [("keep_location", True), ("forecast", True), ("slug", False), ("mark", False)]
)
def test_what_an_older_recipe_does_not_name_is_at_its_default(missing: str, *, is_same: bool) -> None:
    """From before a setting was there; where it is set now, something is to be made again."""
    older, now = stored(FULL, without=missing), stored(FULL)

    assert is_same_recipe(older, now) is is_same
    assert is_same_recipe(now, older) is is_same


@pytest.mark.parametrize(
    ("metadata", "keep", "is_same"), [("whole", False, False), ("whole", True, True), ("rights", False, True)]
)
def test_serial_numbers_travelled_before_they_could_be_kept_back(metadata: str, *, keep: bool, is_same: bool) -> None:
    """What was delivered then is to be made again where it holds them and should not."""
    how = replace(FULL, metadata=metadata, keep_serials=keep)

    assert is_same_recipe(stored(how, without="keep_serials"), stored(how)) is is_same


def test_the_same_config_asks_for_the_same(tmp_path: Path) -> None:
    """Read again, or noted by the ledger: nothing is made again for it."""
    routing = route(Path("seal.jpg"), ida(tmp_path).names)
    one, other = (wanted_by(ida(tmp_path), routing) for _ in range(2))

    assert one == other
    assert [(wish.destination, wish.density) for wish in one] == [("club", 1)]
    assert is_same_recipe(one[0].recipe, stored(ida(tmp_path).destinations["club"].recipe))
