"""Folders that must lie apart."""

from __future__ import annotations

from pathlib import Path

import pytest

from lanternslide.config.checks.overlap import NamedFolder, named_folders, overlaps
from lanternslide.config.settings import Destination
from tests.support.configs import LEAST, faults, load


def pairs(*folders: tuple[str, Path]) -> list[tuple[str, str]]:
    """Return the keys of what overlaps: inner and outer."""
    named = (NamedFolder(key=key, folder=folder) for key, folder in folders)
    return [(inner.key, outer.key) for inner, outer in overlaps(named)]


def test_which_lies_inside_which() -> None:
    """Whatever the order; a name that merely begins alike lies beside."""
    outer, inner = ("outer", Path("/srv/drop")), ("inner", Path("/srv/drop/a/out"))
    beside = ("beside", Path("/srv/drop2"))

    assert pairs(outer, inner, beside) == pairs(inner, beside, outer) == [("inner", "outer")]


def test_the_same_folder_overlaps_once() -> None:
    """Each pair is told once, in one direction."""
    assert len(pairs(("a", Path("/srv/x")), ("b", Path("/srv/x")))) == 1
    assert len(pairs(("a", Path("/srv/x")), ("b", Path("/srv/x")), ("c", Path("/srv/x/y")))) == 3


def test_folders_of_one_key_may_be_one() -> None:
    """A destination whose folders for two photographers are named alike is told once against another key."""
    assert pairs(("a", Path("/srv/x")), ("a", Path("/srv/x/y"))) == []
    assert pairs(("a", Path("/srv/x/1")), ("a", Path("/srv/x/2")), ("b", Path("/srv/x"))) == [("a", "b")]


def test_links_and_dots_are_resolved(tmp_path: Path) -> None:
    """Where folders really lie counts, also where a part of them is not there yet."""
    (tmp_path / "drop").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "drop")
    drop = ("drop", tmp_path / "drop")

    assert pairs(drop, ("out", tmp_path / "link" / "deep" / "out")) == [("out", "drop")]
    assert pairs(drop, ("out", tmp_path / "away" / ".." / "drop" / "out")) == [("out", "drop")]
    assert pairs(drop, ("out", tmp_path / "drop" / ".." / "out")) == []


@pytest.mark.parametrize(
    ("state", "drop", "folder", "keys"),
    [
        ("state", "drop", "drop/out", {"destinations.portfolio.folder"}),
        ("state", "out/ida/portfolio/in", "out/{photographer}/portfolio", {"photographers.ida.drop"}),
        ("drop/state", "drop", "out", {"service.state"}),
        ("same", "drop", "same", {"destinations.portfolio.folder", "service.state"}),
        ("state", "drop", "link", {"photographers.ida.drop", "destinations.portfolio.folder"}),
    ],
)
def test_a_config_with_overlapping_folders_is_refused(
    tmp_path: Path, state: str, drop: str, folder: str, keys: set[str]
) -> None:
    """A folder inside another, or the same, is refused with both keys named, links resolved."""
    (tmp_path / "drop").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "drop")

    found = faults(
        tmp_path,
        f"""
[service]
state = "{state}"
[photographers.ida]
drop = "{drop}"
[destinations.portfolio]
folder = "{folder}"
size = {{ long_edge = 1050 }}
""",
    )

    (key,) = found
    assert key in keys
    assert "is, or lies inside, the folder of" in found[key]


def test_every_folder_of_a_config_is_named(tmp_path: Path) -> None:
    """Drop, destinations, proofs, filing and state: destinations once for each photographer that they vary with."""
    text = LEAST.replace('drop = "drop/ida"', 'drop = "drop/ida"\noriginals = "filed"\nproofs = "proofs"')
    text += '[photographers.juno]\ndrop = "drop/juno"\n[service]\nstate = "state"\n'
    text += '[destinations.club]\nfolder = "club"\nsize = { width = 90 }\n'
    settings = load(tmp_path, text)
    own = Destination.model_validate({"folder": str(tmp_path / "own/{photographer}"), "size": {"width": 90}})
    same = settings.destinations["club"].model_copy(update={"quality": 70})

    found = named_folders(settings, {("juno", "portfolio"): own, ("ida", "club"): same})

    assert {(item.key, item.folder.relative_to(tmp_path).as_posix()) for item in found} == {
        ("service.state", "state"),
        ("photographers.ida.drop", "drop/ida"),
        ("photographers.ida.originals", "filed"),
        ("photographers.ida.proofs", "proofs"),
        ("photographers.juno.drop", "drop/juno"),
        ("destinations.portfolio.folder", "out/ida/portfolio"),
        ("destinations.portfolio.folder", "out/juno/portfolio"),
        ("destinations.club.folder", "club"),
        ("photographers.juno.overrides.portfolio.folder", "own/juno"),
    }


def test_one_folder_for_all_photographers_is_no_overlap(tmp_path: Path) -> None:
    """A destination whose folder does not vary is shared."""
    settings = load(tmp_path, LEAST.replace("{photographer}/", "") + '[photographers.juno]\ndrop = "drop/juno"\n')

    assert settings.destinations["portfolio"].folder_for("ida") == settings.destinations["portfolio"].folder_for("juno")
