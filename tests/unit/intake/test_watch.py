"""Real file system events as hints."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.intake import DropWatcher

PATIENCE = 20.0
Hints = queue.SimpleQueue[tuple[str, Path]]


@pytest.fixture
def drop(tmp_path: Path) -> Path:
    """Return a drop folder."""
    folder = tmp_path / "drop"
    folder.mkdir()
    return folder


@pytest.fixture
def hints(drop: Path) -> Iterator[Hints]:
    """Watch the drop folder meanwhile and return where hints arrive."""
    found: Hints = queue.SimpleQueue()
    watcher = DropWatcher(lambda photographer, path: found.put((photographer, path)))
    watcher.watch("ida", drop)
    yield found
    watcher.stop()


def until(hints: Hints, path: str) -> None:
    """Take hints until one names *path*."""
    while True:
        hint = hints.get(timeout=PATIENCE)
        if hint == ("ida", Path(path)):
            return


def test_a_new_file_is_hinted(drop: Path, hints: Hints) -> None:
    """A file that is written leaves a hint with its path below the drop folder."""
    (drop / "x.jpg").write_bytes(b"picture")

    until(hints, "x.jpg")


def test_a_rename_is_hinted_at_both_ends(drop: Path, hints: Hints) -> None:
    """A rename leaves hints for the old and the new name."""
    (drop / "x.part").write_bytes(b"picture")
    (drop / "x.part").rename(drop / "x.jpg")

    until(hints, "x.jpg")
    (drop / "x.jpg").rename(drop / "y.jpg")
    until(hints, "x.jpg")
    until(hints, "y.jpg")


def test_a_folder_moved_in_is_hinted(drop: Path, hints: Hints, tmp_path: Path) -> None:
    """A folder that is moved in whole leaves a hint."""
    (tmp_path / "islands").mkdir()
    (tmp_path / "islands" / "x.jpg").touch()
    (tmp_path / "islands").rename(drop / "islands")

    until(hints, "islands")


def test_a_folder_that_is_not_there_cannot_be_watched(tmp_path: Path) -> None:
    """That is said at once."""
    watcher = DropWatcher(lambda _photographer, _path: None)
    try:
        with pytest.raises(OSError, match="No such file"):
            watcher.watch("ida", tmp_path / "away")
    finally:
        watcher.stop()
