"""From the validation's complaints to faults that a photographer understands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from lanternslide.config.checks.faults import PlacedFault, faults_of, quote
from lanternslide.config.settings import NAME_ALLOWED, Settings
from tests.support.configs import LEAST, faults, keys_of


def placed(raw: dict[str, Any]) -> list[PlacedFault]:
    """Return the faults of the settings model alone."""
    with pytest.raises(ValidationError) as error:
        Settings.model_validate(raw, context={"base": Path("/srv")})
    return faults_of("x.toml", raw, error.value.errors())


@pytest.mark.parametrize(
    ("change", "key", "says"),
    [
        ("quality = 90.5", "quality", 'Found 90.5. Allowed: 1 to 100, or "auto".'),
        ("quality = true", "quality", 'Found true. Allowed: 1 to 100, or "auto".'),
        ('chroma = "444"', "chroma", 'Found "444". Allowed: "4:4:4", "4:2:2" or "4:2:0".'),
        ('max_bytes = "500 kilo"', "max_bytes", 'Found "500 kilo". Allowed: a size with its unit, such as "500 kB".'),
        (
            "sharpen = 3",
            "sharpen",
            'Found 3. Allowed: "auto", false, or a table. For example: sharpen = { strength = 0.8 }',
        ),
        ("sharpen = { steps = 9 }", "sharpen.steps", "Found 9. Allowed: 1 to 4."),
        ("sharpen = { finish = { amount = 501 } }", "sharpen.finish.amount", "Found 501. Allowed: 0 to 500 per cent."),
        ("tone = { brightness = 30 }", "tone.brightness", "Found 30. Allowed: -20 to 20, in L*."),
        (
            "tone = 3",
            "tone",
            "Found 3. Allowed: a table of brightness and contrast. For example: tone = { brightness = 3 }",
        ),
        ('tags = "journal"', "tags", 'Found "journal". Write a list: ["journal"].'),
        ("tags = [1]", "tags", "Found [1]. Allowed: a list of names."),
        ("densities = []", "densities", "Found []. Allowed: a list of 1 to 4 different numbers from 1 to 4."),
        ("watermark = { opacity = 1 }", "watermark", "A watermark is a text or an image. Give exactly one of them."),
        ('watermark = { text = "Ida", opacity = 2 }', "watermark.opacity", "Found 2. Allowed: more than 0, up to 1."),
        ("forecast = { quality = 0, long_edge = 90 }", "forecast.quality", "Found 0. Allowed: 1 to 100."),
        ("forecast = {}", "forecast.long_edge", "This key is required. Allowed: pixels, 16 to 100000."),
    ],
)
def test_a_wrong_value_says_what_was_found_and_what_is_allowed(
    tmp_path: Path, change: str, key: str, says: str
) -> None:
    """In one fault, with the key down to what is wrong, however many kinds of values the key could have."""
    assert faults(tmp_path, LEAST + change) == {f"destinations.portfolio.{key}": says}


def test_what_is_allowed_in_a_pass_says_why(tmp_path: Path) -> None:
    """A mask of a smaller radius would do nothing."""
    found = faults(tmp_path, LEAST + "sharpen = { steps = 2, lead = { radius = 0.2 } }")

    assert "does nothing" in found["destinations.portfolio.sharpen.lead.radius"]


@pytest.mark.parametrize(
    ("size", "given"),
    [("{}", "nothing"), ("{ enlarge = true }", "enlarge"), ("{ width = 90, box = [90, 90] }", "width, box")],
)
def test_a_size_without_one_rule_says_what_was_given(tmp_path: Path, size: str, given: str) -> None:
    """All that stands in the table."""
    found = faults(tmp_path, LEAST.replace("{ long_edge = 1050 }", size))

    assert found["destinations.portfolio.size"].startswith(f"Found {given}. Give exactly one of long_edge")


@pytest.mark.parametrize(
    ("text", "key", "near"),
    [
        ("[service]\nsetle_seconds = 3\n", "service.setle_seconds", "settle_seconds"),
        ("[photographers.ida]\ndrop = 'd'\nCreator = 'x'\n", "photographers.ida.Creator", "creator"),
        ("[destinations.x]\nfolder='f'\nsize={width = 90,enlrage=true}", "destinations.x.size.enlrage", "enlarge"),
        ("[service]\nxylophone = 3\n", "service.xylophone", None),
    ],
)
def test_an_unknown_key_has_its_nearest_named(tmp_path: Path, text: str, key: str, near: str | None) -> None:
    """At whatever depth, with the keys that there are; nothing is guessed where nothing is like it."""
    found = faults(tmp_path, text)[key]

    assert found.startswith("There is no such key")
    assert "Keys here: " in found
    assert (f"(did you mean “{near}”?)" in found) if near else ("did you mean" not in found)


def test_an_unknown_key_beside_a_wrong_value_hides_neither(tmp_path: Path) -> None:
    """Nor does either of them what the table as a whole lacks."""
    text = LEAST + 'sharpen = { strenght = 1, steps = 9 }\nwatermark = { colour = "red" }\n'

    assert keys_of(tmp_path, text) == {
        "destinations.portfolio.sharpen.strenght": "unknown-key",
        "destinations.portfolio.sharpen.steps": "not-allowed",
        "destinations.portfolio.watermark.colour": "unknown-key",
    }


def test_a_name_that_cannot_be_is_quoted_with_what_names_may_be(tmp_path: Path) -> None:
    """The table is named by it, and nothing else is said of what stands in it."""
    found = faults(tmp_path, LEAST + '[destinations."my site"]\nfolder = "f"\nsize = { width = 90 }\n')

    assert found == {"destinations.my site": f'Found "my site". Allowed: {NAME_ALLOWED}.'}


def test_a_table_that_is_none_is_said(tmp_path: Path) -> None:
    """A number where a table belongs."""
    found = faults(tmp_path, LEAST.replace("[photographers.ida]", "[destinations]\nclub = 3\n[photographers.ida]"))

    assert found["destinations.club"] == f"Found 3. Allowed: a table; its name: {NAME_ALLOWED}."


def test_what_lacks_a_key_is_left_out_as_a_whole() -> None:
    """So that the rest can be looked at: the place of a missing key's fault is its table, of others their own."""
    raw = {"photographers": {"ida": {"creator": 3}}, "destinations": {"club": {"folder": "f", "size": {"width": 0}}}}

    found = {item.fault.key: item.place for item in placed(raw)}

    assert found == {
        "photographers.ida.drop": ("photographers", "ida"),
        "photographers.ida.creator": ("photographers", "ida", "creator"),
        "destinations.club.size.width": ("destinations", "club", "size", "width"),
    }


def test_a_photographer_may_be_called_like_a_key() -> None:
    """A name in a table of tables is a name, whatever else it means."""
    raw = {"photographers": {"service": {"drop": "d", "proofs": 3}, "drop": {"drop": 4}}}

    assert [item.fault.key for item in placed(raw)] == ["photographers.service.proofs", "photographers.drop.drop"]


@pytest.mark.parametrize(
    ("value", "quoted"),
    [
        (True, "true"),
        (False, "false"),
        (3, "3"),
        (1.5, "1.5"),
        ("best", '"best"'),
        ("a\nb\x1b[31m", '"a\\nb\\x1b[31m"'),
        ("\u202egpj", '"\\u202egpj"'),
        ({"a": 1}, "a table"),
        ([1, 1], "[1, 1]"),
    ],
)
def test_values_are_quoted_as_they_stand(value: object, quoted: str) -> None:
    """As in TOML, so that they are found again, and safe to print."""
    assert quote(value) == quoted
