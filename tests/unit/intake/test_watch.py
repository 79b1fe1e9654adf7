"""Real file system events as hints."""

from __future__ import annotations

import logging
import queue
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from lanternslide.intake import DropWatcher, watches_in_place

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
    watcher = DropWatcher(lambda photographer, path: found.put((photographer, path)), lambda: None)
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
    watcher = DropWatcher(lambda _photographer, _path: None, lambda: None)
    try:
        with pytest.raises(OSError, match="No such file"):
            watcher.watch("ida", tmp_path / "away")
    finally:
        watcher.stop()


@pytest.fixture
def watcher() -> Iterator[DropWatcher]:
    """Return a watcher that tells nobody."""
    found = DropWatcher(lambda _photographer, _path: None, lambda: None)
    yield found
    found.stop()


def until_true(holds: Callable[[], bool]) -> None:
    """Wait until something holds."""
    end = time.monotonic() + PATIENCE
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.02)


def test_a_folder_made_anew_is_noticed(drop: Path, watcher: DropWatcher) -> None:
    """Another folder under the same name is not the one that is watched; it can be watched anew."""
    watcher.watch("ida", drop)
    assert watcher.is_watching("ida")
    drop.rename(drop.with_name("away"))
    assert not watcher.is_watching("ida")
    drop.mkdir()
    assert not watcher.is_watching("ida")
    watcher.watch("ida", drop)
    assert watcher.is_watching("ida")
    assert not watcher.is_watching("juno")


def test_threads_that_end_are_noticed_and_started_again(drop: Path) -> None:
    """Whichever of watchdog's threads ends, that shows, and watching anew brings the hints back."""
    again: Hints = queue.SimpleQueue()
    watcher = DropWatcher(lambda photographer, path: again.put((photographer, path)), lambda: None)
    for thread in ("emitter", "observer"):
        watcher.watch("ida", drop)
        assert watcher.is_watching("ida")
        if thread == "emitter":
            (emitter,) = watcher._observer.emitters
            emitter.stop()
        else:
            watcher._observer.stop()
        until_true(lambda: not watcher.is_watching("ida"))
        watcher.watch("ida", drop)
        assert watcher.is_watching("ida")
        (drop / f"{thread}.jpg").touch()
        until(again, f"{thread}.jpg")
    watcher.stop()


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells how many folders are watched")
def test_watched_folders_are_counted(drop: Path, watcher: DropWatcher) -> None:
    """The system tells of each folder that it watches, subfolders too."""
    before = watches_in_place()
    assert before is not None
    for number in range(5):
        (drop / str(number)).mkdir()
    watcher.watch("ida", drop)

    assert watches_in_place() == before + 6
    assert watches_in_place(drop / "none") is None


@pytest.mark.skipif(sys.platform != "linux", reason="inotify is Linux's")
def test_lost_events_are_told() -> None:
    """What watchdog only remarks in its log reaches the service."""
    lost: queue.SimpleQueue[bool] = queue.SimpleQueue()
    watcher = DropWatcher(lambda _photographer, _path: None, lambda: lost.put(True))
    logging.getLogger("watchdog.observers.inotify_c").warning("Inotify queue overflowed; filesystem events were lost")
    watcher.stop()

    assert lost.get(timeout=PATIENCE)
