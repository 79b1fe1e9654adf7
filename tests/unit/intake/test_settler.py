"""Keeping watch over files until they have settled: the clock is passed in, the files are real."""

from __future__ import annotations

import os
import sys
from itertools import islice
from pathlib import Path

import pytest

from lanternslide.intake import Settler, look_at, scan

SECONDS = 2.0


@pytest.fixture
def settler() -> Settler:
    """Return a settler that wants a file to stay for two seconds."""
    return Settler(lambda _photographer: SECONDS)


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    """Return a file with content."""
    return written(tmp_path / "x.jpg")


def written(path: Path, data: bytes = b"picture" * 1000) -> Path:
    """Write a file, and the folder around it."""
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(data)
    return path


def seen(settler: Settler, folder: Path, now: float, photographer: str = "ida") -> list[bool]:
    """Let the settler see what lies in a folder; return what was new to it."""
    return [settler.see(file, now) for file in scan(photographer, folder)]


def settled(settler: Settler, now: float) -> list[str]:
    """Return the names of what has settled by now."""
    return [str(file.relative) for file in settler.review(now)]


def test_settles_after_two_equal_looks(settler: Settler, picture: Path) -> None:
    """A file that stays as it is settles at its second look, after the settling time, once."""
    seen(settler, picture.parent, 10.0)

    assert settled(settler, 11.9) == []
    assert settler.next_due() == 12.0
    assert settled(settler, 12.0) == ["x.jpg"]
    assert (len(settler), settler.next_due(), settled(settler, 99.0)) == (0, None, [])


def test_it_comes_out_as_it_looks_then(settler: Settler, picture: Path) -> None:
    """With the fingerprint by which the ledger knows it again."""
    seen(settler, picture.parent, 0.0)

    assert list(settler.review(2.0)) == list(look_at("ida", picture.parent, Path("x.jpg")))


def test_a_file_is_new_once(settler: Settler, picture: Path) -> None:
    """However often it is seen, changed or not; a look that shows no change does not put it off."""
    assert seen(settler, picture.parent, 0.0) == [True]
    assert seen(settler, picture.parent, 1.5) == [False]
    assert settler.next_due() == 2.0
    written(picture, b"other")
    assert seen(settler, picture.parent, 1.9) == [False]

    assert settled(settler, 3.8) == []
    assert settled(settler, 3.9) == ["x.jpg"]


def test_a_growing_file_waits(settler: Settler, picture: Path) -> None:
    """A file that has grown by its second look waits as long again."""
    seen(settler, picture.parent, 0.0)
    with picture.open("ab") as stream:
        stream.write(b"more")

    assert settled(settler, 2.0) == []
    assert settled(settler, 3.9) == []
    assert settled(settler, 4.0) == ["x.jpg"]


def test_a_replaced_file_waits(settler: Settler, picture: Path) -> None:
    """Another file under the same name is another file, even with the same size and time."""
    seen(settler, picture.parent, 0.0)
    status = picture.stat()
    written(picture.with_name("other.part"), picture.read_bytes()).replace(picture)
    os.utime(picture, ns=(status.st_atime_ns, status.st_mtime_ns))

    assert settled(settler, 2.0) == []
    assert settled(settler, 4.0) == ["x.jpg"]


def test_a_tail_of_zeros_waits_ten_times_as_long(settler: Settler, picture: Path) -> None:
    """A file whose length was reserved first is probably still being copied; once it is written it waits as usual."""
    written(picture.with_name("y.jpg"), b"picture" + bytes(600))
    written(picture, b"picture" + bytes(600))
    seen(settler, picture.parent, 0.0)

    assert settled(settler, 2.0) == []
    seen(settler, picture.parent, 3.0)
    assert settler.next_due() == 20.0
    written(picture)
    seen(settler, picture.parent, 5.0)
    assert settled(settler, 7.0) == ["x.jpg"]
    assert settled(settler, 19.9) == []
    assert settled(settler, 20.0) == ["y.jpg"]


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells who writes")
def test_a_file_that_somebody_writes_has_not_settled(settler: Settler, picture: Path) -> None:
    """As long as it is held open for writing, it is looked at again after each settling time."""
    seen(settler, picture.parent, 0.0)
    with picture.open("ab"):
        assert settled(settler, 2.0) == []
        assert settler.next_due() == 4.0
        assert settled(settler, 4.0) == []

    assert settled(settler, 6.0) == ["x.jpg"]


@pytest.mark.parametrize("by", ["nothing", "a link"])
def test_a_file_that_goes_away_is_forgotten(settler: Settler, picture: Path, by: str) -> None:
    """What is gone before it settles, or is a link now, is no candidate any more."""
    seen(settler, picture.parent, 0.0)
    picture.rename(picture.with_suffix(".txt"))
    if by == "a link":
        picture.symlink_to(picture.with_suffix(".txt"))

    assert settled(settler, 2.0) == []
    assert (len(settler), settler.next_due()) == (0, None)


def test_a_folder_that_is_called_like_a_picture_settles_too(settler: Settler, tmp_path: Path) -> None:
    """Its owner is to hear of it, so it comes out like a file."""
    (tmp_path / "x.jpg").mkdir()
    seen(settler, tmp_path, 0.0)

    (file,) = settler.review(2.0)
    assert file.is_folder


def test_a_drop_folder_that_does_not_answer_is_not_looked_at(settler: Settler, tmp_path: Path) -> None:
    """What cannot be seen has not been deleted: it is due later. Others do not wait for it."""
    for name in ("ida", "juno"):
        picture = written(tmp_path / name / "x.jpg")
        seen(settler, picture.parent, 0.0, name)
        picture.rename(picture.with_suffix(".away"))
    (tmp_path / "juno" / "x.away").rename(tmp_path / "juno" / "x.jpg")

    found = [file.photographer for file in settler.review(2.0, lambda photographer: photographer == "juno")]

    assert found == ["juno"]
    assert (len(settler), settler.next_due()) == (1, 4.0)
    (tmp_path / "ida" / "x.away").rename(tmp_path / "ida" / "x.jpg")
    assert settled(settler, 4.0) == ["x.jpg"]


def test_each_photographer_has_a_settling_time(tmp_path: Path) -> None:
    """One drop folder may lie on a share and another on a disk; the earliest of all is what is due next."""
    settler = Settler({"ida": 10.0, "juno": 2.0}.__getitem__)
    for name in ("ida", "juno"):
        seen(settler, written(tmp_path / name / "x.jpg").parent, 0.0, name)

    assert settler.next_due() == 2.0
    assert [file.photographer for file in settler.review(9.9)] == ["juno"]
    assert settler.next_due() == 10.0
    assert [file.photographer for file in settler.review(10.0)] == ["ida"]


def test_what_does_not_settle_is_given_up(settler: Settler, tmp_path: Path) -> None:
    """What was first looked at before a time, however often it has changed since; what came at that time stays."""
    written(tmp_path / "old.jpg")
    seen(settler, tmp_path, 0.0)
    written(tmp_path / "old.jpg", b"changed")
    written(tmp_path / "new.jpg")
    seen(settler, tmp_path, 5.0)

    assert [str(file.relative) for file in settler.give_up(5.0)] == ["old.jpg"]
    assert len(settler) == 1
    assert settler.give_up(5.0) == []
    assert settled(settler, 7.0) == ["new.jpg"]


def test_what_was_given_up_is_new_when_it_is_seen_again(settler: Settler, picture: Path) -> None:
    """Its wait begins anew."""
    seen(settler, picture.parent, 0.0)
    settler.give_up(1.0)

    assert seen(settler, picture.parent, 10.0) == [True]
    assert settled(settler, 11.9) == []
    assert settled(settler, 12.0) == ["x.jpg"]


def test_nobody_waits_until_anothers_thousands_are_looked_at(settler: Settler, tmp_path: Path) -> None:
    """Of those that are due, photographers' files come by turns, also where the look was broken off."""
    for photographer, number in (("ida", 50), ("juno", 2)):
        for index in range(number):
            written(tmp_path / photographer / f"{index}.jpg", b"x")
        seen(settler, tmp_path / photographer, 0.0, photographer)

    first = [file.photographer for file in islice(settler.review(2.5), 3)]
    rest = [file.photographer for file in settler.review(2.5)]

    assert first == ["ida", "juno", "ida"]
    assert rest[:2].count("juno") == 1
    assert len(rest) == 49
    assert settler.next_due() is None
