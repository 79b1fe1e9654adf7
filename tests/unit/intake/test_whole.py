"""Signs that a file is still being written."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from lanternslide.intake import held_for_writing
from lanternslide.intake.whole import tail_is_zeros

linux = pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells who writes")


@pytest.mark.parametrize(
    ("data", "zeros"),
    [
        (b"", False),
        (b"\0", True),
        (b"xyz", False),
        (bytes(511) + b"x", False),
        (b"x" + bytes(511), False),
        (b"x" + bytes(512), True),
        (bytes(512) + b"x", False),
    ],
)
def test_zero_tails(tmp_path: Path, data: bytes, *, zeros: bool) -> None:
    """A tail of zeros is 512 bytes long, or the whole of a shorter file; an empty file has none."""
    path = tmp_path / "x.jpg"
    path.write_bytes(data)

    assert tail_is_zeros(path) is zeros


def test_what_cannot_be_read_has_no_tail(tmp_path: Path) -> None:
    """A file that is gone, and a folder."""
    assert tail_is_zeros(tmp_path / "gone.jpg") is False
    assert tail_is_zeros(tmp_path) is False


@linux
def test_whoever_writes_is_seen(tmp_path: Path) -> None:
    """As long as the file is open for writing, and no longer; who reads it is nobody."""
    path = tmp_path / "x.jpg"
    with path.open("wb"):
        assert held_for_writing(path)
    with path.open("rb"):
        assert not held_for_writing(path)


@linux
def test_asking_hinders_nobody(tmp_path: Path) -> None:
    """The file can be opened for writing at once after it, which a lease that is kept would hold up (fcntl(2))."""
    path = tmp_path / "x.jpg"
    path.touch()
    assert not held_for_writing(path)

    os.close(os.open(path, os.O_WRONLY | os.O_NONBLOCK))


@linux
def test_what_is_no_file_of_its_own_is_held_by_nobody(tmp_path: Path) -> None:
    """A link is not followed, what is gone is no error, and a pipe does not keep whoever asks waiting."""
    written = tmp_path / "x.jpg"
    (tmp_path / "link.jpg").symlink_to(written)
    os.mkfifo(tmp_path / "pipe.jpg")

    with written.open("wb"):
        assert not held_for_writing(tmp_path / "link.jpg")
    assert not held_for_writing(tmp_path / "gone.jpg")
    assert not held_for_writing(tmp_path / "pipe.jpg")
