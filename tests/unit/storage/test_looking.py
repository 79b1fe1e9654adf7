"""Whether something is there, as far as the system says."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest

from lanternslide.storage import is_file, is_folder, is_gone, is_there


class Seen(NamedTuple):
    """What is said of a path."""

    folder: bool = False
    file: bool = False
    there: bool = False
    gone: bool = False


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """Return a folder with something of every kind."""
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").touch()
    for name, target in [("to folder", "folder"), ("to file", "file"), ("to nowhere", "nothing"), ("round", "round")]:
        (tmp_path / name).symlink_to(target)
    return tmp_path


@pytest.mark.parametrize(
    ("name", "seen"),
    [
        ("folder", Seen(folder=True, there=True)),
        ("file", Seen(file=True, there=True)),
        ("to folder", Seen(folder=True, there=True)),
        ("to file", Seen(file=True, there=True)),
        ("to nowhere", Seen(there=True)),
        ("round", Seen(there=True)),
        ("nothing", Seen(gone=True)),
        ("nothing/nothing", Seen(gone=True)),
        ("file/nothing", Seen(gone=True)),
        ("round/nothing", Seen()),
        ("x" * 300, Seen()),
    ],
)
def test_what_the_system_says(place: Path, name: str, seen: Seen) -> None:
    """A name that a link has is taken. Where the system refuses to say, nothing is there, and nothing is gone."""
    path = place / name

    assert Seen(is_folder(path), is_file(path), is_there(path), is_gone(path)) == seen
