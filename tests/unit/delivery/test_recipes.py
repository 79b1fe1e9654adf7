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
