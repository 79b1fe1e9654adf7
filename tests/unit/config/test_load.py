"""Finding and loading a config: where it is looked for, and every fault at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from lanternslide.config import Size, find_config, load_settings
from lanternslide.errors import ConfigError
from tests.support.configs import LEAST, faults, keys_of, load

CONFIG = Path(__file__).resolve().parents[3] / "config"


# Finding


def test_the_config_is_found_in_order(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The one that is named, then the environment's, then this folder's, then the user's."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "home"))
    with pytest.raises(ConfigError, match="There is no config here"):
        find_config(None, {})
    users = tmp_path / "home" / "lanternslide" / "lanternslide.toml"
    users.parent.mkdir(parents=True)
    users.touch()
    assert find_config(None, {}) == users
    (tmp_path / "lanternslide.toml").touch()
    assert find_config(None, {}) == Path("lanternslide.toml")
    assert find_config(None, {"LANTERNSLIDE_CONFIG": "other.toml"}) == Path("other.toml")
    assert find_config(Path("named.toml"), {"LANTERNSLIDE_CONFIG": "other.toml"}) == Path("named.toml")


def test_an_empty_variable_names_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The next place counts."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "lanternslide.toml").touch()

    assert find_config(None, {"LANTERNSLIDE_CONFIG": ""}) == Path("lanternslide.toml")


def test_all_places_that_were_looked_at_are_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder of the config's name is none."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "home"))
    (tmp_path / "lanternslide.toml").mkdir()

    with pytest.raises(ConfigError) as error:
        find_config(None, {})

    (fault,) = error.value.faults
    assert (fault.file, fault.key, fault.said.key) == ("", "", "no-file")
    assert str(tmp_path / "home" / "lanternslide" / "lanternslide.toml") in fault.said.text


# Reading


@pytest.mark.parametrize("name", ["demo", "home-server", "reference"])
def test_shipped_configs_load(name: str) -> None:
    """Every config that is shipped can be loaded."""
    assert load_settings(CONFIG / f"{name}.toml").destinations


def test_a_config_that_begins_with_a_mark(tmp_path: Path) -> None:
    """Editors on Windows put a byte order mark before a text; the config is read all the same."""
    config = tmp_path / "lanternslide.toml"
    text = '[photographers.ida]\ndrop = "d"\n[destinations.club]\nfolder = "o"\nsize = { long_edge = 1050 }\n'
    config.write_bytes(text.replace("\n", "\r\n").encode("utf-8-sig"))

    assert list(load_settings(config).destinations) == ["club"]


def test_folders_are_told_from_the_config_not_from_where_one_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Relative paths are relative to the config file, also where that is named by a relative path."""
    (tmp_path / "here").mkdir()
    (tmp_path / "here" / "lanternslide.toml").write_text(LEAST)
    monkeypatch.chdir(tmp_path)

    settings = load_settings(Path("here/lanternslide.toml"))

    assert settings.photographers["ida"].drop == tmp_path / "here" / "drop" / "ida"


@pytest.mark.parametrize(
    ("data", "place", "key"),
    [
        (None, "", "not-readable"),
        (b"[photographers.ida\n", "line 1", "bracket-not-closed"),
        (b'[photographers.ida]\ndrop = "\xe9"', "line 2", "not-utf8"),
        (b"[photographers.ida]\ndrop drop", "line 2", "not-toml"),
    ],
)
def test_a_file_that_is_no_config(tmp_path: Path, data: bytes | None, place: str, key: str) -> None:
    """One that is not there, broken TOML, and what is no UTF-8 (TOML 1.0.0) are one fault."""
    path = tmp_path / "lanternslide.toml"
    if data is not None:
        path.write_bytes(data)

    with pytest.raises(ConfigError) as error:
        load_settings(path)

    assert [(fault.file, fault.key, fault.said.key) for fault in error.value.faults] == [(str(path), place, key)]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", {"photographers": "nobody", "destinations": "nowhere"}),
        ("[photographers]\n[destinations]\n", {"photographers": "nobody", "destinations": "nowhere"}),
        ('[photographers.ida]\ndrop = "drop"\n', {"destinations": "nowhere"}),
        ("photographers = 3\n", {"photographers": "not-allowed", "destinations": "nowhere"}),
    ],
)
def test_a_config_needs_somebody_and_some_place(tmp_path: Path, text: str, found: dict[str, str]) -> None:
    """What is not there at all is told as such; what is there and wrong is told once."""
    assert keys_of(tmp_path, text) == found


# Faults


def test_faults_are_named_at_once(tmp_path: Path) -> None:
    """Each fault has its key, what was found, what is allowed, and the nearest right key."""
    found = faults(
        tmp_path,
        """
[service]
workers = 0
setle_seconds = 3

[photographers.ida]
otherwise = ["portfolo"]

[destinations.portfolio]
folder = "out/portfolio"
size = { long_edge = 1050, width = 700 }
quality = "best"

[destinations.club]
folder = "out/portfolio/club"
size = { long_egde = 1050 }
densities = [1, 1]
""",
    )

    assert found == {
        "service.workers": 'Found 0. Allowed: "auto", or 1 to 256.',
        "service.setle_seconds": found["service.setle_seconds"],
        "photographers.ida.drop": "This key is required. Allowed: a folder.",
        "destinations.portfolio.size": (
            "Found long_edge, width. Give exactly one of long_edge, short_edge, width, height, box or area."
        ),
        "destinations.portfolio.quality": 'Found "best". Allowed: 1 to 100, or "auto".',
        "destinations.club.size.long_egde": found["destinations.club.size.long_egde"],
        "destinations.club.densities": "Found [1, 1]. Allowed: a list of 1 to 4 different numbers from 1 to 4.",
    }
    assert "did you mean “settle_seconds”?" in found["service.setle_seconds"]
    assert "did you mean “long_edge”?" in found["destinations.club.size.long_egde"]


def test_one_wrong_value_hides_no_fault_of_the_whole(tmp_path: Path) -> None:
    """Names that do not exist, folders that overlap and shared tags are found beside what is wrong in a table."""
    text = """
[photographers.ida]
drop = "out"
otherwise = ["jurnal", "club"]
override_rights = "yes"

[destinations.club]
folder = "out/club"
size = { long_edge = 0 }

[destinations.journal]
folder = "out/journal"
tags = ["notes"]
size = { long_edge = 1600 }

[destinations.notes]
folder = "notes"
quality = 101
size = { long_edge = 1600 }
"""

    assert keys_of(tmp_path, text) == {
        "photographers.ida.otherwise": "no-such-destination",
        "photographers.ida.override_rights": "not-allowed",
        "destinations.club.size.long_edge": "not-allowed",
        "destinations.journal.folder": "overlapping-folders",
        "destinations.notes.quality": "not-allowed",
        "destinations.notes.tags": "same-tag",
    }


def test_a_destination_with_a_fault_is_still_a_destination(tmp_path: Path) -> None:
    """Whoever names it, in a list or in overrides, has made no mistake."""
    text = LEAST.replace("size = { long_edge = 1050 }", "quality = 0").replace(
        'drop = "drop/ida"', 'drop = "drop/ida"\notherwise = ["portfolio"]\noverrides = { portfolio = { quality = 5 } }'
    )

    assert keys_of(tmp_path, text) == {
        "destinations.portfolio.size": "missing-key",
        "destinations.portfolio.quality": "not-allowed",
    }


def test_faults_come_in_the_order_of_their_keys(tmp_path: Path) -> None:
    """So that those of one table stand together."""
    text = LEAST + 'quality = 0\nchroma = "x"\n[service]\nattempts = 0\n'

    assert list(faults(tmp_path, text)) == [
        "destinations.portfolio.chroma", "destinations.portfolio.quality", "service.attempts",
    ]  # fmt: skip


# Overrides


def test_overrides_change_one_photographers_destination(tmp_path: Path) -> None:
    """What a photographer overrides holds for that photographer alone; the rest stays."""
    text = LEAST + "quality = 80\n[photographers.ida.overrides.portfolio]\nsize = { width = 900 }\n"

    settings = load(tmp_path, text + '[photographers.juno]\ndrop = "drop/juno"\n')

    assert settings.destination_for("ida", "portfolio").size == Size(width=900)
    assert settings.destination_for("ida", "portfolio").quality == 80
    assert settings.destination_for("juno", "portfolio").size == Size(long_edge=1050)


def test_a_folder_in_overrides_is_told_from_the_config(tmp_path: Path) -> None:
    """As everywhere else."""
    settings = load(tmp_path, LEAST + '[photographers.ida.overrides.portfolio]\nfolder = "mine"\n')

    assert settings.destination_for("ida", "portfolio").folder == tmp_path / "mine"


def test_overrides_are_checked(tmp_path: Path) -> None:
    """Faults in overrides are named by their own keys, with the nearest right name."""
    text = (
        LEAST
        + "[photographers.ida.overrides.portfolio]\nqualty = 3\nmin_quality = 0\nsize = { width = 90, height = 90 }\n"
        + "[photographers.ida.overrides.portfolo]\n"
    )

    found = faults(tmp_path, text)

    here = "photographers.ida.overrides"
    assert set(found) == {
        f"{here}.portfolio.qualty", f"{here}.portfolio.min_quality", f"{here}.portfolio.size", f"{here}.portfolo",
    }  # fmt: skip
    assert "did you mean “quality”?" in found[f"{here}.portfolio.qualty"]
    assert found[f"{here}.portfolio.min_quality"] == "Found 0. Allowed: 1 to 100."
    assert "did you mean “portfolio”?" in found[f"{here}.portfolo"]
