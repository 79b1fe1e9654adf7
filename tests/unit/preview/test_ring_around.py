"""A ring-around: which variants there are, what the config says of each, and what a worker is asked for."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.config import load_settings, recipe_of
from lanternslide.preview.ring_around import config_line, variants_of
from lanternslide.records import Sharpening, UnsharpMask
from tests.support.household import CONFIG

MASK = UnsharpMask(radius=0.6, amount=120, blend=0.5)
LADDER = Sharpening(strength=1.0, steps=2, ratio=2.0)
OWN_NUMBERS = Sharpening(strength=1.0, finish=MASK)


def strengths(sharpening: Sharpening) -> list[list[float]]:
    """Return the strengths of each row."""
    return [[variant.sharpening.strength for variant in row] for row in variants_of(sharpening)]


def own(sharpening: Sharpening) -> list[tuple[int, Sharpening]]:
    """Return the row and the way of what is marked as the destination's own."""
    rows = enumerate(variants_of(sharpening))
    return [(number, variant.sharpening) for number, row in rows for variant in row if variant.is_own]


@pytest.mark.parametrize(
    ("strength", "expected"),
    [
        (1.0, [0.5, 0.75, 1.0, 1.25, 1.5]),
        (0.75, [0.25, 0.5, 0.75, 1.0, 1.25]),
        (0.3, [0.0, 0.05, 0.3, 0.55, 0.8]),  # no less than none
        (1.9, [1.4, 1.65, 1.9, 2.0]),  # no more than the most, and each once
        (2.0, [1.5, 1.75, 2.0]),
        (0.0, [0.0, 0.5, 0.75, 1.0, 1.25, 1.5]),  # none, and what would be the default
    ],
)
def test_strengths_lie_around_the_destinations(strength: float, expected: list[float]) -> None:
    """In one step, and over a rung of twice the size; without sharpening there is no second way."""
    one, two = variants_of(Sharpening(strength=strength))

    assert [variant.sharpening.strength for variant in one] == pytest.approx(expected)
    assert [variant.sharpening.strength for variant in two] == pytest.approx([s for s in expected if s])
    assert {(variant.sharpening.steps, variant.sharpening.ratio) for variant in two} == {(2, 2.0)}
    assert {variant.sharpening.steps for variant in one} == {1}


@pytest.mark.parametrize(
    ("sharpening", "row"),
    [
        (Sharpening(), 0),
        (Sharpening(strength=0.8), 0),
        (Sharpening(strength=0.0), 0),
        (LADDER, 1),
        (replace(LADDER, strength=0.5), 1),
        (OWN_NUMBERS, 0),
        (replace(LADDER, lead=MASK), 0),
        (replace(LADDER, ratio=1.67), 0),
        (replace(LADDER, steps=3), 0),
    ],
)
def test_what_is_configured_is_there_exactly_once(sharpening: Sharpening, row: int) -> None:
    """Whatever it is, the owner finds it marked, to compare with."""
    assert own(sharpening) == [(row, sharpening)]


@pytest.mark.parametrize(
    ("sharpening", "rows"),
    [(Sharpening(), 2), (LADDER, 2), (OWN_NUMBERS, 3), (replace(LADDER, ratio=1.67), 3)],
)
def test_an_owners_numbers_have_a_row_of_their_own(sharpening: Sharpening, rows: int) -> None:
    """Other strengths of them, before the chain's two ways."""
    found = variants_of(sharpening)

    assert len(found) == rows
    if rows == 3:
        assert {replace(variant.sharpening, strength=1.0) for variant in found[0]} == {sharpening}
        assert found[1:] == tuple(
            tuple(replace(variant, is_own=False) for variant in row) for row in variants_of(Sharpening())
        )


def test_no_sharpening_is_one_way_however_it_is_written() -> None:
    """Steps and passes mean nothing then."""
    silent = replace(LADDER, strength=0.0, lead=MASK)

    assert variants_of(silent) == variants_of(Sharpening(strength=0.0))
    assert own(silent) == [(0, Sharpening(strength=0.0))]


def test_every_label_is_another_one() -> None:
    """Owners choose by them."""
    for sharpening in (Sharpening(), LADDER, OWN_NUMBERS, Sharpening(strength=0.3)):
        labels = [variant.label for row in variants_of(sharpening) for variant in row]
        assert len(set(labels)) == len(labels)
    (none, some, *_), _ = variants_of(Sharpening(strength=0.3))
    assert (none.label, some.label) == ("no sharpening", "strength 0.05, in one step")


ALL = [
    Sharpening(strength=0.0), Sharpening(), Sharpening(strength=0.75), LADDER, replace(LADDER, strength=1.25),
    replace(LADDER, steps=4, ratio=1.67), OWN_NUMBERS, replace(LADDER, strength=0.5, lead=MASK),
    replace(LADDER, lead=MASK, finish=UnsharpMask(radius=0.3, amount=80, blend=1)),
]  # fmt: skip


@pytest.mark.parametrize("sharpening", ALL, ids=config_line)
def test_the_line_of_a_config_gives_that_very_way(tmp_path: Path, sharpening: Sharpening) -> None:
    """Copied into a destination, it makes pictures as the ring-around shows them."""
    line = config_line(sharpening)
    assert "\n" not in line
    tomllib.loads(line)
    config = tmp_path / "lanternslide.toml"
    config.write_text(CONFIG.replace("[destinations.club]", f"[destinations.club]\n{line}"), "utf-8")

    settings = load_settings(config)

    found = recipe_of(settings.destination_for("ida", "club"), settings.photographers["ida"])
    assert found.sharpening == sharpening


@pytest.mark.parametrize(
    ("sharpening", "line"),
    [
        (Sharpening(strength=0.0), "sharpen = false"),
        (replace(LADDER, strength=0.0, lead=MASK), "sharpen = false"),
        (Sharpening(), 'sharpen = "auto"'),
        (Sharpening(strength=0.75), "sharpen = { strength = 0.75 }"),
    ],
)
def test_the_simplest_line_is_shown(sharpening: Sharpening, line: str) -> None:
    """Nobody has to write what goes without saying."""
    assert config_line(sharpening) == line
