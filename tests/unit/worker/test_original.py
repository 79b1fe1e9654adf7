"""Opening an original: only the very file that had settled, and no other by any link."""

from __future__ import annotations

import errno
import hashlib
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.errors import OriginalHeldError, PassingFaultError
from lanternslide.records import Changed, Fingerprint, Refused, Stalled
from lanternslide.words import Held, Passing, Word
from lanternslide.worker.original import READ_BYTES, OriginalChangedError, answer_of, opened

CONTENT = b"an original as it was exported"
POSIX = pytest.mark.skipif(sys.platform == "win32", reason="Windows opens files otherwise")


@pytest.fixture
def drop(tmp_path: Path) -> Path:
    """Return a drop folder with an original in a folder."""
    drop = tmp_path / "drop"
    (drop / "journal").mkdir(parents=True)
    (drop / "journal" / "seal.jpg").write_bytes(CONTENT)
    return drop


@pytest.fixture(params=["folder by folder", "between two looks"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Open in both ways: as systems can that open below a folder, and as Windows does."""
    if request.param == "between two looks":
        monkeypatch.setattr(os, "supports_dir_fd", frozenset())
    elif os.open not in os.supports_dir_fd:
        pytest.skip("this system cannot open below a folder")
    return str(request.param)


def looks(path: Path) -> Fingerprint:
    """Return how a file looks now."""
    return Fingerprint.of(path.stat())


def open_files() -> int:
    """Return how many files this process has open."""
    folder = Path("/proc/self/fd")
    return len(list(folder.iterdir())) if folder.is_dir() else 0


@pytest.mark.usefixtures("way")
@pytest.mark.parametrize("size", [0, 1, READ_BYTES, READ_BYTES + 1])
def test_the_digest_is_that_of_the_whole_file(drop: Path, size: int) -> None:
    """Every byte counts, however often it takes to read them."""
    path = drop / "x.tif"
    path.write_bytes(b"s" * size)

    with opened(drop, path, looks(path)) as original:
        assert original.digest() == hashlib.sha256(b"s" * size).hexdigest()


@pytest.mark.usefixtures("way")
def test_what_is_open_is_closed_again(drop: Path) -> None:
    """A worker lives for many originals: none leaves a file open, opened or not."""
    path = drop / "journal" / "seal.jpg"
    expected, before = looks(path), open_files()
    with opened(drop, path, expected):
        pass
    for at, other in ((path, replace(expected, size=1)), (drop / "gone" / "x.jpg", expected), (drop / "y", expected)):
        with pytest.raises(OriginalChangedError), opened(drop, at, other):
            pass

    assert open_files() == before


@pytest.mark.usefixtures("way")
@pytest.mark.parametrize("field", ["size", "mtime_ns", "inode"])
def test_another_state_of_the_file_is_not_opened(drop: Path, field: str) -> None:
    """Size, time and number of the file have all to be what they were when it settled."""
    path = drop / "journal" / "seal.jpg"
    expected = looks(path)
    with opened(drop, path, expected):
        pass

    with pytest.raises(OriginalChangedError), opened(drop, path, replace(expected, **{field: 7})):
        pytest.fail("it was opened")


@pytest.mark.usefixtures("way")
def test_what_changes_while_it_is_read_has_changed(drop: Path) -> None:
    """A stale result is never used: the end is looked at as the beginning is."""
    path = drop / "journal" / "seal.jpg"

    with pytest.raises(OriginalChangedError), opened(drop, path, looks(path)), path.open("ab") as stream:
        stream.write(b"more")


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="only Linux opens a file by what is open already")
def test_readers_get_the_very_file_that_was_opened(drop: Path) -> None:
    """Another file that takes the name meanwhile is read by nobody."""
    path = drop / "journal" / "seal.jpg"

    with opened(drop, path, looks(path)) as original:
        (drop / "other").write_bytes(b"another picture")
        (drop / "other").rename(path)

        assert original.path.read_bytes() == CONTENT


def _remove(path: Path) -> None:
    path.unlink()


def _put_a_file_in_place_of_its_folder(path: Path) -> None:
    path.unlink()
    path.parent.rmdir()
    path.parent.write_bytes(b"")


def _link_it(path: Path) -> None:
    path.rename(path.parents[2] / "elsewhere.jpg")
    path.symlink_to(path.parents[2] / "elsewhere.jpg")


def _link_its_folder(path: Path) -> None:
    path.parent.rename(path.parents[2] / "outside")
    path.parent.symlink_to(path.parents[2] / "outside")


def _put_a_folder_in_its_place(path: Path) -> None:
    path.unlink()
    path.mkdir()


@POSIX
@pytest.mark.usefixtures("way")
@pytest.mark.parametrize(
    "happens",
    [_remove, _put_a_file_in_place_of_its_folder, _link_it, _link_its_folder, _put_a_folder_in_its_place],
    ids=lambda happens: happens.__name__.strip("_"),
)
def test_what_has_taken_its_place_is_not_the_original(drop: Path, happens: Callable[[Path], None]) -> None:
    """Gone, a folder, or a link to the very same file: none of them is what had settled."""
    path = drop / "journal" / "seal.jpg"
    expected = looks(path)
    happens(path)

    with pytest.raises(OriginalChangedError), opened(drop, path, expected):
        pytest.fail("it was opened")


@POSIX
def test_a_pipe_in_its_place_keeps_nobody_waiting(drop: Path) -> None:
    """Opening a pipe would wait for whoever writes into it."""
    path = drop / "journal" / "seal.jpg"
    expected = looks(path)
    path.unlink()
    os.mkfifo(path)

    with pytest.raises(OriginalChangedError), opened(drop, path, expected):
        pytest.fail("it was opened")


@POSIX
@pytest.mark.usefixtures("way")
def test_links_up_to_the_drop_folder_are_followed(drop: Path) -> None:
    """Where the drop folder lies is its owner's business."""
    way_in = drop.parent / "way in"
    way_in.symlink_to(drop)
    path = way_in / "journal" / "seal.jpg"

    with opened(way_in, path, looks(path)) as original:
        assert original.digest() == hashlib.sha256(CONTENT).hexdigest()


def raising(error: Exception) -> Callable[[], str]:
    """Return a look that fails."""

    def look() -> str:
        raise error

    return look


def of_windows(code: int) -> OSError:
    """Return what Windows answers with a code of its own; Python calls both of these a lack of rights."""
    error = PermissionError(errno.EACCES, "denied")
    error.winerror = code  # type: ignore[attr-defined, unused-ignore]
    return error


def test_what_is_found_is_the_answer() -> None:
    """A look without trouble is passed on as it is."""
    assert answer_of(lambda: "found") == "found"


def test_what_has_changed_has_no_answer() -> None:
    """It is looked at again, and costs no attempt."""
    assert answer_of(raising(OriginalChangedError())) == Changed()


def test_what_cannot_be_done_is_refused_with_its_reason() -> None:
    """The reason is the reader's, word for word."""
    held = OriginalHeldError(Held.CUT_SHORT, detail="half of it")

    assert answer_of(raising(held)) == Refused(said=held.said)


def test_what_is_in_the_way_elsewhere_stalls_with_its_reason() -> None:
    """It is no fault of the original that a folder takes nothing."""
    fault = PassingFaultError(Passing.DISK_FULL, folder="out")

    assert answer_of(raising(fault)) == Stalled(said=fault.said)


@pytest.mark.parametrize(
    ("error", "word"),
    [
        (PermissionError(errno.EACCES, "denied"), Passing.ORIGINAL_NOT_PERMITTED),
        (PermissionError(errno.EPERM, "denied"), Passing.ORIGINAL_NOT_PERMITTED),
        (of_windows(5), Passing.ORIGINAL_NOT_PERMITTED),
        # Open in another program (system error codes 32 and 33): rights would not help.
        (of_windows(32), Passing.ORIGINAL_AWAY),
        (of_windows(33), Passing.ORIGINAL_AWAY),
        (OSError(errno.EIO, "input/output error"), Passing.ORIGINAL_AWAY),
        (OSError(errno.ESTALE, "stale file handle"), Passing.ORIGINAL_AWAY),
        (OSError("no number"), Passing.ORIGINAL_AWAY),
    ],
)
def test_what_may_pass_stalls(error: OSError, word: Word) -> None:
    """A lack of rights is told apart from a disk or a share that has trouble; both may pass."""
    answer = answer_of(raising(error))

    assert isinstance(answer, Stalled)
    assert (answer.said.key, answer.delivery) == (word.value, None)
    if word is Passing.ORIGINAL_AWAY:
        assert (error.strerror or str(error)) in answer.said.text


def test_what_nobody_foresaw_is_a_failure() -> None:
    """It counts as an attempt, so it is not swallowed."""
    with pytest.raises(ZeroDivisionError):
        answer_of(raising(ZeroDivisionError()))
