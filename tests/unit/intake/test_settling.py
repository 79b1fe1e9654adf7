"""When a file has stopped changing: the clock is passed in, the files are real."""

from __future__ import annotations

import os
import subprocess
import sys
from itertools import islice
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.intake import Settler, look_at, scan
from lanternslide.intake.settling import ZERO_TAIL_FACTOR, Sighting, look_again, settles_at
from lanternslide.intake.whole import held_for_writing, tail_is_zeros
from lanternslide.records import DroppedFile, Fingerprint

SECONDS = 2.0


def file_of(size: int) -> DroppedFile:
    """Return a file that was seen with a size."""
    fingerprint = Fingerprint(size=size, mtime_ns=0, inode=1)
    return DroppedFile(photographer="ida", drop=Path("drop"), relative=Path("x.jpg"), fingerprint=fingerprint)


@given(sizes=st.lists(st.integers(1, 3), min_size=1), step=st.floats(0.1, 5))
def test_the_wait_begins_anew_with_every_change(sizes: list[int], step: float) -> None:
    """A file settles so many seconds after the last look that showed a change, however often it changed before."""
    sighting: Sighting | None = None
    changed_at = 0.0
    for number, size in enumerate(sizes):
        if number and size != sizes[number - 1]:
            changed_at = number * step
        sighting = look_again(sighting, file_of(size), number * step)

    assert sighting is not None
    assert settles_at(sighting, SECONDS, zero_tail=False) == changed_at + SECONDS
    assert settles_at(sighting, SECONDS, zero_tail=True) == changed_at + SECONDS * ZERO_TAIL_FACTOR


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    """Return a file with content."""
    path = tmp_path / "x.jpg"
    path.write_bytes(b"picture" * 1000)
    return path


def seen(settler: Settler, folder: Path, now: float) -> None:
    """Let the settler see what lies in a folder."""
    for file in scan("ida", folder):
        settler.see(file, now)


def test_settles_after_two_equal_looks(picture: Path) -> None:
    """A file that stays as it is settles at its second look, after the settling time, once."""
    settler = Settler(lambda _photographer: SECONDS)
    seen(settler, picture.parent, 10.0)

    assert list(settler.review(11.9)) == []
    assert settler.next_due() == 12.0
    assert [file.relative for file in settler.review(12.0)] == [Path("x.jpg")]
    assert (len(settler), settler.next_due()) == (0, None)


def test_a_growing_file_waits(picture: Path) -> None:
    """A file that has grown by its second look waits as long again."""
    settler = Settler(lambda _photographer: SECONDS)
    seen(settler, picture.parent, 0.0)
    with picture.open("ab") as stream:
        stream.write(b"more")

    assert list(settler.review(2.0)) == []
    assert len(list(settler.review(4.0))) == 1


def test_a_replaced_file_waits(picture: Path) -> None:
    """Another file under the same name is another file, even with the same size and time."""
    settler = Settler(lambda _photographer: SECONDS)
    seen(settler, picture.parent, 0.0)
    status = picture.stat()
    other = picture.with_name("other.part")
    other.write_bytes(picture.read_bytes())
    other.replace(picture)
    os.utime(picture, ns=(status.st_atime_ns, status.st_mtime_ns))

    assert list(settler.review(2.0)) == []
    assert len(list(settler.review(4.0))) == 1


def test_a_tail_of_zeros_waits_ten_times_as_long(picture: Path) -> None:
    """A file whose length was reserved first is probably still being copied."""
    with picture.open("ab") as stream:
        stream.write(bytes(600))
    settler = Settler(lambda _photographer: SECONDS)
    seen(settler, picture.parent, 0.0)

    assert list(settler.review(2.0)) == []
    assert list(settler.review(19.9)) == []
    assert len(list(settler.review(20.0))) == 1


def test_a_file_that_goes_away_is_forgotten(picture: Path) -> None:
    """What is gone before it settles is no candidate any more."""
    settler = Settler(lambda _photographer: SECONDS)
    seen(settler, picture.parent, 0.0)
    picture.unlink()

    assert list(settler.review(2.0)) == []
    assert len(settler) == 0


@pytest.mark.parametrize(
    ("data", "zeros"),
    [(b"", False), (b"\0", True), (b"x" + bytes(512), True), (bytes(512) + b"x", False), (b"xyz", False)],
)
def test_zero_tails(tmp_path: Path, data: bytes, zeros: bool) -> None:  # noqa: FBT001
    """A tail of zeros is 512 bytes long, or the whole of a shorter file; an empty file has none."""
    path = tmp_path / "x.jpg"
    path.write_bytes(data)

    assert tail_is_zeros(path) is zeros


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells who writes")
def test_a_file_that_another_process_writes_has_not_settled(picture: Path) -> None:
    """As long as somebody holds the file open for writing, it waits."""
    settler = Settler(lambda _photographer: SECONDS)
    seen(settler, picture.parent, 0.0)
    writer = "import sys; stream = open(sys.argv[1], 'ab'); print('open', flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", writer, str(picture)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "open\n"
        assert held_for_writing(picture)
        assert list(settler.review(2.0)) == []
        process.communicate("")

    assert not held_for_writing(picture)
    assert len(list(settler.review(4.0))) == 1


def test_nobody_waits_until_anothers_thousands_are_looked_at(tmp_path: Path) -> None:
    """Of those that are due, photographers' files come by turns, also where the look was broken off."""
    settler = Settler(lambda _name: 1.0)
    for photographer, number in (("ida", 50), ("juno", 2)):
        for index in range(number):
            path = tmp_path / photographer / f"{index}.jpg"
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(b"x")
            (file,) = look_at(photographer, path.parent, Path(path.name))
            settler.see(file, 0.0)

    first = [file.photographer for file in islice(settler.review(1.5), 3)]
    rest = [file.photographer for file in settler.review(1.5)]

    assert first == ["ida", "juno", "ida"]
    assert rest[:2].count("juno") == 1
    assert len(rest) == 49
    assert settler.next_due() is None
