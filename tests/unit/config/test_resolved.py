"""What a config comes to: names, recipes and folders of each photographer."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.config import ResolvedPhotographer, RoutingNames, load_settings, resolve
from lanternslide.records import Recipe, Recompression, Rights, Sharpening, SizeRule, UnsharpMask, Watermark

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


def resolved(
    folder: Path, club: str = PLAIN_SIZE, *, owner: str = "", more: str = ""
) -> dict[str, ResolvedPhotographer]:
    """Return what a config comes to of Ida, who delivers to the club, with some lines more."""
    config = folder / "lanternslide.toml"
    config.write_text(CONFIG.format(owner=owner, club=club, more=more), "utf-8")
    return resolve(load_settings(config))


def names(folder: Path, *, owner: str = "", more: str = "") -> RoutingNames:
    """Return what Ida's destinations are called."""
    return resolved(folder, owner=owner, more=more)["ida"].names


def recipe(folder: Path, club: str = PLAIN_SIZE, *, owner: str = "") -> Recipe:
    """Return how Ida's pictures are prepared for the club."""
    return resolved(folder, club, owner=owner)["ida"].destinations["club"].recipe


def test_a_photographer_has_their_own_destinations() -> None:
    """With overrides, tags and rights of their own, in the order of the config."""
    settings = load_settings(HOME_SERVER)
    juno = resolve(settings)["juno"]

    assert tuple(juno.destinations) == settings.destinations_of("juno")
    assert "portfolio" not in juno.destinations
    assert juno.destinations["journal"].recipe.size == SizeRule(rule="long_edge", values=(1400,))
    assert list(juno.destinations["journal"].densities) == [1, 2]
    assert juno.destinations["club"].recipe.size == SizeRule(rule="box", values=(1920, 1080))
    assert juno.destinations["club"].recipe.rights.creator == settings.photographers["juno"].creator
    assert (juno.names.tags["blog"], juno.drop) == ("journal", settings.photographers["juno"].drop)


@pytest.mark.parametrize(
    ("folder", "delivered", "fixed", "is_shared"),
    [("web/blog", "web/blog", "web", True), ("web/{photographer}/blog", "web/ida/blog", "web", False)],
)
def test_a_folder_is_filled_in(tmp_path: Path, folder: str, delivered: str, fixed: str, *, is_shared: bool) -> None:
    """What varies with the photographer may be made; what stands above it must be there."""
    more = f'[destinations.journal]\nfolder = "{folder}"\n{PLAIN_SIZE}\nmanifest = true'

    journal = resolved(tmp_path, more=more)["ida"].destinations["journal"]

    assert (journal.folder, journal.fixed_folder) == (tmp_path / delivered, tmp_path / fixed)
    assert (journal.is_shared, journal.manifest) == (is_shared, True)


# What destinations are called


def test_a_destination_is_called_as_its_table_unless_its_owner_says_otherwise(tmp_path: Path) -> None:
    """Tags and subfolders replace the name, each for itself, and are matched without regard to case."""
    more = '[destinations.Journal]\nfolder = "blog"\nsize = { long_edge = 100 }\ntags = ["Blog", "STRASSE"]'

    found = names(tmp_path, more=more)

    assert found.tags == {"club": "club", "blog": "Journal", "strasse": "Journal"}
    assert found.subfolders == {"club": "club", "journal": "Journal"}
    assert (found.photographer, found.otherwise) == ("ida", ("club",))


def test_only_a_photographers_own_destinations_have_names(tmp_path: Path) -> None:
    """Another's destinations are invisible."""
    more = f'[destinations.journal]\nfolder = "blog"\n{PLAIN_SIZE}'

    found = names(tmp_path, owner='destinations = ["club"]', more=more)

    assert set(found.tags) == set(found.subfolders) == {"club"}


@pytest.mark.parametrize(("words", "keeps"), [("", False), ("hold", False), ("keep", True)])
def test_an_unknown_name_is_held_unless_its_owner_keeps_such(tmp_path: Path, words: str, *, keeps: bool) -> None:
    """Nothing is published to a place that its owner did not clearly name."""
    more = f'[service]\nunknown_names = "{words}"' if words else ""

    assert names(tmp_path, more=more).keep_unknown is keeps


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
                steps=3, ratio=1.5, lead=UnsharpMask(radius=0.8, amount=150, blend=0.4),
                finish=UnsharpMask(radius=0.5, amount=50, blend=1),
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
            {"forecast": Recompression(long_edge=1240, quality=72, chroma="4:2:0")},
        ),
        ('watermark = { text = "© Ida Marrow" }', {"mark": Watermark(text="© Ida Marrow")}),
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

    assert recipe(tmp_path, f"{PLAIN_SIZE}\n{line}").mark == Watermark(
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
    found = resolved(tmp_path, more=more)

    assert [found[who].destinations["club"].recipe.quality for who in ("ida", "juno")] == [90, 70]
