"""From the config's words to what intake and workers are told."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from pathlib import Path

import pytest

from lanternslide.config import Settings, load_settings
from lanternslide.daemon.recipes import is_same_recipe, place_of, recipe_of, recipes_for, wanted_by
from lanternslide.intake import route
from lanternslide.records import Mark, Mask, Operator, Recipe, Rights, Sharpening, SizeRule

HOME_SERVER = Path(__file__).resolve().parents[3] / "config" / "home-server.toml"

CONFIG = """
[photographers.ida]
drop = "drop"
otherwise = ["club"]
{owner}

[destinations.club]
folder = "out"
{club}

{more}
"""
PLAIN_SIZE = "size = { long_edge = 100 }"


def settings_of(folder: Path, club: str = PLAIN_SIZE, *, owner: str = "", more: str = "") -> Settings:
    """Return the settings of Ida, who delivers to the club, with some lines more."""
    config = folder / "lanternslide.toml"
    config.write_text(CONFIG.format(owner=owner, club=club, more=more), "utf-8")
    return load_settings(config)


def recipe(folder: Path, club: str = PLAIN_SIZE, *, owner: str = "") -> Recipe:
    """Return how Ida's pictures are prepared for the club."""
    settings = settings_of(folder, club, owner=owner)
    return recipe_of(settings.destination_for("ida", "club"), settings.photographers["ida"])


def test_the_config_becomes_wishes() -> None:
    """Tags of a config lead to its destinations, each with a wish for every density and the photographer's own size."""
    settings = load_settings(HOME_SERVER)
    place = place_of(settings, "juno")

    routing = route(Path("grey-seal@blog@club.tif"), place)
    wanted = wanted_by(settings, "juno", routing)

    assert [(wish.destination, wish.density) for wish in wanted] == [("journal", 1), ("journal", 2), ("club", 1)]
    juno = settings.photographers["juno"]
    journal, club = (recipe_of(settings.destination_for("juno", name), juno) for name in ("journal", "club"))
    assert journal.size == SizeRule(rule="long_edge", values=(1400,))
    assert club.size == SizeRule(rule="box", values=(1920, 1080))
    assert journal.rights.creator == juno.creator
    with pytest.raises(KeyError):
        _ = place.tags["portfolio"]


# What destinations are called


def test_a_destination_is_called_as_its_table_unless_its_owner_says_otherwise(tmp_path: Path) -> None:
    """Tags and subfolders replace the name, each for itself, and are matched without regard to case."""
    more = '[destinations.Journal]\nfolder = "blog"\nsize = { long_edge = 100 }\ntags = ["Blog", "STRASSE"]'

    place = place_of(settings_of(tmp_path, more=more), "ida")

    assert place.tags == {"club": "club", "blog": "Journal", "strasse": "Journal"}
    assert place.subfolders == {"club": "club", "journal": "Journal"}
    assert (place.photographer, place.otherwise) == ("ida", ("club",))


def test_only_a_photographers_own_destinations_have_names(tmp_path: Path) -> None:
    """Another's destinations are invisible."""
    more = f'[destinations.journal]\nfolder = "blog"\n{PLAIN_SIZE}'

    place = place_of(settings_of(tmp_path, owner='destinations = ["club"]', more=more), "ida")

    assert set(place.tags) == set(place.subfolders) == {"club"}


@pytest.mark.parametrize(("words", "keeps"), [("", False), ("hold", False), ("keep", True)])
def test_an_unknown_name_is_held_unless_its_owner_keeps_such(tmp_path: Path, words: str, *, keeps: bool) -> None:
    """Nothing is published to a place that its owner did not clearly name."""
    more = f'[service]\nunknown_names = "{words}"' if words else ""

    assert place_of(settings_of(tmp_path, more=more), "ida").keep_unknown is keeps


# How pictures are prepared


@pytest.mark.parametrize(
    ("size", "rule"),
    [
        ("long_edge = 1050", SizeRule(rule="long_edge", values=(1050,))),
        ("short_edge = 700", SizeRule(rule="short_edge", values=(700,))),
        ("width = 800", SizeRule(rule="width", values=(800,))),
        ("height = 600", SizeRule(rule="height", values=(600,))),
        ("box = [1920, 1080]", SizeRule(rule="box", values=(1920, 1080))),
        ("area = 1.5", SizeRule(rule="area", values=(1.5,))),
        ("long_edge = 1050, enlarge = true", SizeRule(rule="long_edge", values=(1050,), enlarge=True)),
    ],
)
def test_every_rule_of_size_goes_over(tmp_path: Path, size: str, rule: SizeRule) -> None:
    """Exactly one is given, and that one counts."""
    assert recipe(tmp_path, f"size = {{ {size} }}").size == rule


@pytest.mark.parametrize(
    ("sharpen", "sharpening"),
    [
        ('"auto"', Sharpening()),
        ("false", Sharpening(strength=0)),
        ("{}", Sharpening(strength=1, steps=1, ratio=2)),
        ("{ strength = 0.5 }", Sharpening(strength=0.5)),
        (
            "{ steps = 3, ratio = 1.5, lead = { radius = 0.8, amount = 150, blend = 0.4 }, finish = { amount = 50 } }",
            Sharpening(
                steps=3, ratio=1.5, lead=Mask(radius=0.8, amount=150, blend=0.4),
                finish=Mask(radius=0.5, amount=50, blend=1),
            ),
        ),
    ],
)  # fmt: skip
def test_sharpening_goes_over(tmp_path: Path, sharpen: str, sharpening: Sharpening) -> None:
    """Automatic, none, or by the owner's own numbers."""
    assert recipe(tmp_path, f"{PLAIN_SIZE}\nsharpen = {sharpen}").sharpening == sharpening


@pytest.mark.parametrize(
    ("lines", "quality", "min_ssim", "min_quality", "max_bytes"),
    [
        ("", 90, None, None, None),
        ("quality = 82", 82, None, None, None),
        ("min_ssim = 0.9\nmin_quality = 60", 90, None, None, None),
        ('quality = "auto"', None, 0.98, 80, None),
        ('quality = "auto"\nmin_ssim = 0.95\nmin_quality = 60', None, 0.95, 60, None),
        ('max_bytes = "500 kB"', 90, None, 80, 500_000),
        ('max_bytes = "500 kB"\nmin_quality = 60\nmin_ssim = 0.9', 90, None, 60, 500_000),
    ],
)
def test_quality_is_fixed_or_by_need(
    tmp_path: Path, lines: str, quality: int | None, min_ssim: float | None, min_quality: int | None,
    max_bytes: int | None,
) -> None:  # fmt: skip
    """What has no say is left out, so that a change of it asks for nothing to be made again."""
    found = recipe(tmp_path, f"{PLAIN_SIZE}\n{lines}")

    assert (found.quality, found.min_ssim) == (quality, min_ssim)
    assert (found.min_quality, found.max_bytes) == (min_quality, max_bytes)


@pytest.mark.parametrize(
    ("line", "change"),
    [
        ('chroma = "4:2:0"', {"chroma": "4:2:0"}),
        ("progressive = false", {"progressive": False}),
        ("tone = { brightness = 2, contrast = -5 }", {"brightness": 2, "contrast": -5}),
        ('out_of_gamut = "clip"', {"clip": True}),
        ('out_of_gamut = "compress"', {}),
        ('metadata = "rights"', {"metadata": "rights"}),
        ("keep_location = true", {"keep_location": True}),
        ("keep_serials = true", {"keep_serials": True}),
        ('name = "{photographer}-{stem}.jpg"', {"name": "{photographer}-{stem}.jpg"}),
        ("slug = true", {"slug": True}),
        (
            "forecast = { long_edge = 1240, quality = 72 }",
            {"forecast": Operator(long_edge=1240, quality=72, chroma="4:2:0")},
        ),
        ('watermark = { text = "© Ida Marrow" }', {"mark": Mark(text="© Ida Marrow")}),
        # Where it goes and what it is called by is not how it is made.
        ('tags = ["gallery"]\nsubfolders = ["gallery"]\ndensities = [1, 2]', {}),
    ],
)
def test_one_line_changes_one_thing(tmp_path: Path, line: str, change: dict[str, object]) -> None:
    """Everything else is as the config's table of defaults has it."""
    plain = Recipe(
        size=SizeRule(rule="long_edge", values=(100,)), sharpening=Sharpening(), quality=90, chroma="4:4:4",
        progressive=True, metadata="whole", keep_location=False, name="{stem}.jpg", slug=False, clip=False,
    )  # fmt: skip

    assert recipe(tmp_path) == plain
    assert recipe(tmp_path, f"{PLAIN_SIZE}\n{line}") == replace(plain, **change)  # type: ignore[arg-type]


def test_a_watermark_goes_over_whole(tmp_path: Path) -> None:
    """Files by their whole paths: a worker may be anywhere."""
    line = (
        'watermark = { image = "mark.png", corner = "upper left", height = 0.1, margin = 0.05, opacity = 0.5, '
        'font = "mark.ttf" }'
    )

    assert recipe(tmp_path, f"{PLAIN_SIZE}\n{line}").mark == Mark(
        image=str(tmp_path / "mark.png"), corner="upper left", height=0.1, margin=0.05, opacity=0.5,
        font=str(tmp_path / "mark.ttf"),
    )  # fmt: skip


def test_rights_are_the_photographers(tmp_path: Path) -> None:
    """They belong to the person, wherever a picture goes; the year is filled in later."""
    owner = 'creator = "Ida Marrow"\ncopyright = "© {year} Ida Marrow"\ncontact = "ida"\noverride_rights = true'

    assert recipe(tmp_path, owner=owner).rights == Rights(
        creator="Ida Marrow", copyright="© {year} Ida Marrow", contact="ida", override=True
    )
    assert recipe(tmp_path).rights == Rights()


def test_a_photographers_own_settings_are_theirs_alone(tmp_path: Path) -> None:
    """Overrides count for one photographer."""
    more = '[photographers.juno]\ndrop = "juno"\n[photographers.juno.overrides.club]\nquality = 70'
    settings = settings_of(tmp_path, more=more)
    routing = route(Path("seal@club.jpg"), place_of(settings, "juno"))

    qualities = [[how.quality for _, how, _ in recipes_for(settings, who, routing)] for who in ("ida", "juno")]

    assert qualities == [[90], [70]]


def test_each_density_is_a_delivery(tmp_path: Path) -> None:
    """In the order of the tags, each with all its densities."""
    more = '[destinations.journal]\nfolder = "blog"\nsize = { long_edge = 200 }\ndensities = [1, 1.5, 3]'
    settings = settings_of(tmp_path, more=more)
    routing = route(Path("seal@journal@club.jpg"), place_of(settings, "ida"))

    found = [(name, how.size.values, density) for name, how, density in recipes_for(settings, "ida", routing)]

    assert found == [("journal", (200,), 1), ("journal", (200,), 1.5), ("journal", (200,), 3), ("club", (100,), 1)]


# What the ledger knows


def stored(how: Recipe, *, without: str | None = None) -> str:
    """Return a recipe as the ledger has it, as if one setting had not been there yet."""
    return json.dumps({name: value for name, value in asdict(how).items() if name != without})


FULL = Recipe(
    size=SizeRule(rule="box", values=(1920, 1080)), sharpening=Sharpening(), quality=90, chroma="4:4:4",
    progressive=True, slug=True, metadata="rights", mark=Mark(text="Ida"),
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
    routing = route(Path("seal.jpg"), place_of(settings_of(tmp_path), "ida"))
    one, other = (wanted_by(settings_of(tmp_path), "ida", routing) for _ in range(2))

    assert one == other
    assert [(wish.destination, wish.density) for wish in one] == [("club", 1)]
    assert is_same_recipe(one[0].recipe, stored(recipe(tmp_path)))
