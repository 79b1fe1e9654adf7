"""Whether a state folder is still the one that was opened."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from lanternslide.ledger import Ledger, Presence


def moved_and_made_anew(folder: Path) -> None:
    """Have another folder of the same name."""
    folder.rename(folder.with_name("elsewhere"))
    shutil.copytree(folder.with_name("elsewhere"), folder)


@pytest.mark.parametrize(
    ("change", "is_there"),
    [
        (lambda folder: (folder / "other").touch(), True),
        (shutil.rmtree, False),
        (lambda folder: folder.rename(folder.with_name("elsewhere")), False),
        (moved_and_made_anew, False),
        (lambda folder: (folder / "ledger.sqlite").unlink(), False),
    ],
    ids=["another file", "deleted", "moved", "made anew", "without its ledger"],
)
def test_it_is_known_by_what_it_is(tmp_path: Path, change: Callable[[Path], object], *, is_there: bool) -> None:
    """Not by its name."""
    folder = tmp_path / "state"
    folder.mkdir()
    with Ledger(folder) as ledger:
        change(folder)
        assert ledger.presence.is_there() is is_there

    assert (folder / "ledger.sqlite.session").exists() is (is_there or folder.exists()), "nothing is made anew"


def test_what_comes_back_is_there_again(tmp_path: Path) -> None:
    """As a disk that is mounted once more."""
    folder = tmp_path / "state"
    folder.mkdir()
    (folder / "ledger.sqlite").touch()
    presence = Presence(folder / "ledger.sqlite")
    folder.rename(tmp_path / "elsewhere")
    assert not presence.is_there()
    (tmp_path / "elsewhere").rename(folder)
    assert presence.is_there()
