"""Whose name it is: what stands published of one picture is never given up for another."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.support.pictures import save_jpeg, size_of
from tests.support.service import FILING, PLAIN, Home, make_home, run, sweep

DATED = ("box = [1920, 1080] }", 'long_edge = 300 }\nname = "{photographer}-{date}.jpg"')


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home with one photographer and three destinations."""
    (tmp_path / "filed").mkdir()
    return make_home(tmp_path)


def sizes(home: Home) -> dict[str, tuple[int, int]]:
    """Return the size of every delivery."""
    return {name: size_of(home.out(name)) for name in home.delivered()}


@pytest.mark.parametrize("config", [PLAIN, FILING], ids=["stay", "filed"])
def test_pictures_that_are_called_alike_all_stand(home: Home, config: str) -> None:
    """A pattern without the stem calls every picture of a day alike; each gets a number, wherever originals go."""
    home.config.write_text(config.replace(*DATED))
    for number in range(4):
        original = save_jpeg(home.drop() / f"{number}@club.jpg", 600, 400, seed=number)
        os.utime(original, (1_600_000_000 + number,) * 2)
    assert sweep(home).status == 0
    assert home.delivered().keys() == {
        f"club/ida-2020-09-13{number}.jpg" for number in ("", "-2", "-3", "-4")
    }  # fmt: skip
    assert len(set(home.delivered().values())) == 4


def test_an_emptied_drop_folder_gives_no_name_away(home: Home) -> None:
    """Its owner has tidied up; what stands stays, though other pictures are called alike."""
    home.config.write_text(PLAIN.replace(*DATED))
    for seed in range(2):
        original = save_jpeg(home.drop() / f"{seed}@club.jpg", 600, 400, seed=seed)
        os.utime(original, (1_600_000_000, 1_600_000_000))
        before = home.delivered()
        assert sweep(home).status == 0
        assert before.items() <= home.delivered().items()
        original.unlink()
    assert len(home.delivered()) == 2


def test_filed_pictures_that_are_called_alike_are_made_again_each(home: Home) -> None:
    """What is made again from where it is filed takes nobody's name, and nobody takes its."""
    slugged = FILING.replace("box = [1920, 1080] }", "long_edge = 400 }\nslug = true")
    home.config.write_text(slugged)
    for width, name in ((600, "Grey Seal"), (700, "grey-seal"), (800, "Grey  Seal")):
        save_jpeg(home.drop() / f"{name}@club.jpg", width, 400, seed=width)
    assert sweep(home).status == 0
    assert len(home.delivered()) == 3

    home.config.write_text(slugged.replace("long_edge = 400", "long_edge = 300"))
    assert run(home, "sweep", "--again").status == 0
    assert {max(size) for size in sizes(home).values()} == {300}
    assert set(sizes(home).values()) == {(300, 200), (300, 171), (300, 150)}


def test_an_export_in_another_kind_of_file_does_not_replace_one_that_is_filed(home: Home) -> None:
    """While the first is filed away both are pictures of their own; once it is deleted there, its name is free."""
    home.config.write_text(FILING)
    save_jpeg(home.drop() / "x@club.jpg", 600, 400)
    assert sweep(home).status == 0
    save_jpeg(home.drop() / "x@club.jpeg", 500, 400, seed=2)
    assert sweep(home).status == 0
    assert sizes(home) == {"club/x.jpg": (600, 400), "club/x-2.jpg": (500, 400)}

    (home.root / "filed" / "ida" / "x@club.jpg").unlink()
    save_jpeg(home.drop() / "x@club.jpe", 400, 300, seed=3)
    assert sweep(home).status == 0
    assert sizes(home) == {"club/x.jpg": (400, 300), "club/x-2.jpg": (500, 400)}


def test_the_same_name_in_another_folder_is_another_picture(home: Home) -> None:
    """Both are delivered side by side, though the first original is gone."""
    (home.drop() / "club").mkdir()
    original = save_jpeg(home.drop() / "x@club.jpg", 600, 400)
    assert sweep(home).status == 0
    original.unlink()
    save_jpeg(home.drop() / "club" / "x.jpg", 500, 400, seed=2)
    assert sweep(home).status == 0
    assert sizes(home) == {"club/x.jpg": (600, 400), "club/x-2.jpg": (500, 400)}
