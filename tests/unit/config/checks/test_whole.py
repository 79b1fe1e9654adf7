"""A config as a whole: names that must exist, tags that must mean one place."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.configs import LEAST, faults, keys_of, load, sentences

CLUB = '[destinations.club]\nfolder = "club"\nsize = { width = 90 }\n'


def with_ida(keys: str) -> str:
    """Return a config with two destinations and more keys for Ida."""
    return LEAST.replace('drop = "drop/ida"', f'drop = "drop/ida"\n{keys}') + CLUB


@pytest.mark.parametrize(
    ("keys", "fault", "says"),
    [
        ('destinations = ["clbu"]', "destinations", "(did you mean “club”?). Destinations: portfolio, club."),
        ('otherwise = ["clbu"]', "otherwise", "(did you mean “club”?). Destinations: portfolio, club."),
        ('otherwise = ["Club"]', "otherwise", "(did you mean “club”?)"),
        ('otherwise = ["elsewhere"]', "otherwise", 'Found "elsewhere", which is not a destination. Destinations:'),
        # A photographer's own list decides what `otherwise` may name.
        ('destinations = ["portfolio"]\notherwise = ["club"]', "otherwise", "Destinations: portfolio."),
    ],
)
def test_destinations_that_are_named_are_there(tmp_path: Path, keys: str, fault: str, says: str) -> None:
    """With the nearest one, if one is near, and all there are."""
    found = faults(tmp_path, with_ida(keys))

    assert list(found) == [f"photographers.ida.{fault}"]
    assert says in found[f"photographers.ida.{fault}"]


def test_each_name_that_is_not_there_is_a_fault(tmp_path: Path) -> None:
    """Two wrong names in one list are two."""
    text = with_ida('otherwise = ["clbu", "portfolio", "prtfolio"]')

    first, second = sentences(tmp_path, text)

    assert first.startswith('Found "clbu",')
    assert second.startswith('Found "prtfolio",')


def test_destinations_that_are_there_may_be_named(tmp_path: Path) -> None:
    """In both lists, and in none."""
    settings = load(tmp_path, with_ida('destinations = ["club"]\notherwise = ["club"]'))

    assert settings.photographers["ida"].otherwise == ("club",)


@pytest.mark.parametrize(
    ("kind", "of_portfolio", "of_club", "fits"),
    [
        ("tags", '["web"]', '["Web"]', False),
        ("tags", '["club"]', None, False),
        ("tags", '["CLUB"]', None, False),
        ("tags", '["club"]', '["society"]', True),
        ("tags", '["web", "Web"]', '["society"]', True),
        ("subfolders", '["straße"]', '["STRASSE"]', False),
        ("subfolders", '["club"]', None, False),
    ],
)
def test_a_tag_or_subfolder_means_one_place(
    tmp_path: Path, kind: str, of_portfolio: str, of_club: str | None, *, fits: bool
) -> None:
    """Without regard to case; a destination without tags is its own, one with tags is not."""
    text = f"{LEAST}{kind} = {of_portfolio}\n{CLUB}" + ("" if of_club is None else f"{kind} = {of_club}\n")

    if fits:
        load(tmp_path, text)
    else:
        assert keys_of(tmp_path, text) == {f"destinations.club.{kind}": "same-tag"}
        (said,) = sentences(tmp_path, text)
        assert "already means the destination portfolio." in said


def test_a_tag_and_a_subfolder_may_be_called_alike(tmp_path: Path) -> None:
    """A tag of one destination and a subfolder of another are two things."""
    load(tmp_path, f'{LEAST}tags = ["web"]\n{CLUB}subfolders = ["web"]\n')
