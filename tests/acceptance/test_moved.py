"""Destinations whose folder is another one now: in the config alone, or moved by their owner with all that is in it."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.support.pictures import save_jpeg, size_of
from tests.support.service import PLAIN, Home, make_home, run, sweep

MOVED = PLAIN.replace("out/club", "out/circle")


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home with one photographer and three destinations."""
    return make_home(tmp_path)


def test_a_folder_that_changes_in_the_config_is_filled_when_asked(home: Home) -> None:
    """`sweep --again` delivers there what stands in the former folder, which keeps it until it is withdrawn."""
    original = save_jpeg(home.drop() / "x@club.jpg", 600, 400)
    assert sweep(home).status == 0
    home.config.write_text(MOVED)
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"club/x.jpg"}
    for _ in range(2):
        assert run(home, "sweep", "--again").status == 0
        assert set(home.delivered()) == {"club/x.jpg", "circle/x.jpg"}
    assert run(home, "sweep", "--again", "--dry-run").output.startswith("0 pictures")
    assert run(home, "withdraw", original).status == 0
    assert home.delivered() == {}


def test_a_folder_that_was_moved_with_its_pictures_stays_theirs(home: Home) -> None:
    """A new export replaces what was moved, and a withdrawal deletes it and waits for nothing."""
    first = save_jpeg(home.drop() / "x@club.jpg", 600, 400)
    second = save_jpeg(home.drop() / "y@club.jpg", 600, 400, seed=2)
    edited = save_jpeg(home.drop() / "z@club.jpg", 600, 400, seed=3)
    assert sweep(home).status == 0
    home.out("club").rename(home.out("circle"))
    home.out("circle", "z.jpg").write_bytes(b"edited")
    home.config.write_text(MOVED)

    for seed, original in enumerate((first, edited)):
        save_jpeg(original, 500, 400, seed=4 + seed)
    assert sweep(home).status == 0
    assert size_of(home.out("circle", "x.jpg")) == (500, 400)
    assert size_of(home.out("circle", "z-2.jpg")) == (500, 400)
    assert home.out("circle", "z.jpg").read_bytes() == b"edited"
    assert len(home.delivered()) == 4
    for original in (first, second):
        ran = run(home, "withdraw", original)
        assert (ran.status, ran.output.count("was deleted")) == (0, 1)
    assert set(home.delivered()) == {"circle/z.jpg", "circle/z-2.jpg"}


def test_a_folder_whose_old_place_comes_back_is_taken_back_there_too(home: Home) -> None:
    """A copy is no move: while the former folder is there, both are taken back."""
    original = save_jpeg(home.drop() / "x@club.jpg", 600, 400)
    assert sweep(home).status == 0
    home.config.write_text(MOVED)
    assert run(home, "sweep", "--again").status == 0
    assert len(home.delivered()) == 2
    away = home.out("club").rename(home.root / "away")
    assert run(home, "withdraw", original).status == 3
    away.rename(home.out("club"))
    assert sweep(home).status == 0
    assert home.delivered() == {}


def test_a_folder_that_never_comes_back_blocks_nothing(home: Home) -> None:
    """Killed before the rename, the disk gone for good, another folder in the config: the delivery is made there.

    If the disk does come back with the file, that is taken back with the rest.
    """
    original = save_jpeg(home.drop() / "x@club.jpg", 600, 400)
    assert sweep(home).status == 0
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite", isolation_level=None)) as ledger:
        # As if the service had been killed between its note and the end.
        ledger.execute(
            "UPDATE delivery SET state = 'publishing', intent = output, intent_size = output_size, "
            "intent_digest = output_digest, output = NULL, output_size = NULL, output_digest = NULL"
        )
        ledger.execute("UPDATE original SET state = 'waiting'")
    away = home.out("club").rename(home.root / "away")
    assert sweep(home).status == 3
    home.config.write_text(MOVED)
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"circle/x.jpg"}

    away.rename(home.out("club"))
    assert run(home, "withdraw", original).status == 0
    assert home.delivered() == {}
