"""Pairs for screens of high density: their names, those of earlier versions, and deliveries dropped in again."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.ledger.database import place_of
from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, Home, make_home, run, sweep

PAIRS = PLAIN.replace("[destinations.journal]", "[destinations.journal]\ndensities = [1, 2]").replace("1600", "300")


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home whose journal shows pairs; one picture is delivered there."""
    home = make_home(tmp_path, PAIRS)
    save_jpeg(home.drop() / "stack@journal.jpg", 900, 600)
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"ida/journal/stack.jpg", "ida/journal/stack-2x.jpg"}
    return home


def called_as_before(home: Home) -> Path:
    """Give the larger one the name that earlier versions gave it, in its folder and in the ledger; return its path."""
    path = home.out("ida", "journal", "stack@2x.jpg")
    home.out("ida", "journal", "stack-2x.jpg").rename(path)
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        connection.execute(
            "UPDATE delivery SET output = ?, place = ?, record = replace(record, 'stack-2x.jpg', 'stack@2x.jpg') "
            "WHERE density = 2", (os.fsencode(path), place_of(path)),
        )  # fmt: skip
        connection.commit()
    return path


def test_a_former_name_stays_until_it_is_asked_for_again(home: Home) -> None:
    """A sweep touches nothing; `--again` says what it would do, and puts the pair's new name in place of the former."""
    former = called_as_before(home)
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"ida/journal/stack.jpg", "ida/journal/stack@2x.jpg"}
    assert "Would make 1 delivery of 1 picture." in run(home, "sweep", "--again", "--dry-run").said

    assert run(home, "sweep", "--again").status == 0

    assert set(home.delivered()) == {"ida/journal/stack.jpg", "ida/journal/stack-2x.jpg"}
    assert not former.exists()
    assert "Nothing needs to be remade." in run(home, "sweep", "--again", "--dry-run").said


def test_a_former_name_is_left_behind_by_a_new_export(home: Home) -> None:
    """The pair goes on under its new name, with no third file."""
    called_as_before(home)
    save_jpeg(home.drop() / "stack@journal.jpg", 900, 600, seed=2)

    assert sweep(home).status == 0

    assert set(home.delivered()) == {"ida/journal/stack.jpg", "ida/journal/stack-2x.jpg"}


@pytest.mark.parametrize("name", ["stack.jpg", "stack-2x.jpg"])
@pytest.mark.parametrize("dropped", ["{name}", "another@club.jpg", "journal/{name}"])
def test_a_delivery_that_is_dropped_in_is_known(home: Home, name: str, dropped: str) -> None:
    """Under any name: it is held, with the original that it was made from, and nothing is published."""
    before = home.delivered()
    copy = home.drop() / dropped.format(name=name)
    copy.parent.mkdir(exist_ok=True)
    shutil.copy(home.out("ida", "journal", name), copy)

    ran = sweep(home)

    assert ran.status == 1
    assert "This is not an original: lanternslide made it from stack@journal.jpg for journal." in ran.said
    assert home.delivered() == before
    assert run(home, "trace", copy).status == 1
    copy.unlink()
    assert sweep(home).status == 0


def test_the_original_is_its_owners_while_a_copy_lies_beside_it(home: Home) -> None:
    """It is remade and withdrawn by its own path; the copy has no say in it."""
    copy = home.drop() / "stack.jpg"
    shutil.copy(home.out("ida", "journal", "stack-2x.jpg"), copy)
    assert sweep(home).status == 1
    home.config.write_text(PAIRS.replace("= 300", "= 270"))

    assert run(home, "sweep", "--again").status == 1  # the copy is held still
    assert set(home.delivered()) == {"ida/journal/stack.jpg", "ida/journal/stack-2x.jpg"}
    assert run(home, "withdraw", home.drop() / "stack@journal.jpg").status == 0

    assert home.delivered() == {}


def test_a_delivery_that_lies_where_its_original_lay_is_held(home: Home) -> None:
    """What was published stays, whatever is asked for; the next export is delivered."""
    original = save_jpeg(home.drop() / "seal.jpg", 900, 600, seed=3)
    assert sweep(home).status == 0
    before = home.delivered()
    shutil.copy(home.out("ida", "journal", "seal-2x.jpg"), original)
    home.config.write_text(PAIRS.replace("= 300", "= 270"))

    for asked in ((), ("--again", "--only", "portfolio"), ("--missing",)):
        assert run(home, "sweep", *asked).status == 1, asked
        assert home.delivered() == before
    assert "Older pictures" not in run(home, "status").said
    home.config.write_text(PAIRS)
    save_jpeg(original, 900, 600, seed=4)

    assert sweep(home).status == 0
    assert home.delivered().keys() == before.keys()


def test_a_former_delivery_that_is_dropped_in_is_no_tag(home: Home) -> None:
    """Its name alone says what it is; as an original it would have to be renamed."""
    copy = home.drop() / "stack@2x.jpg"
    shutil.copy(home.out("ida", "journal", "stack-2x.jpg"), copy)

    ran = sweep(home)

    assert ran.status == 1
    assert "“@2x” ends the name, as lanternslide once named" in ran.said
    copy.rename(home.drop() / "stack-at-night@club.jpg")
    ran = sweep(home)
    assert "This is not an original" in ran.said
    assert ran.status == 1


def test_a_withdrawn_delivery_is_known_as_well(home: Home) -> None:
    """What was taken back does not come back through the drop folder."""
    copy = home.drop() / "again@club.jpg"
    shutil.copy(home.out("ida", "journal", "stack.jpg"), copy)
    assert run(home, "withdraw", home.drop() / "stack@journal.jpg").status == 0

    assert sweep(home).status == 1

    assert home.delivered() == {}


def test_each_of_a_pair_says_which_name_was_taken(home: Home) -> None:
    """What is true of one file alone is said of each; what is true of the picture is said once."""
    for name in ("kelp.jpg", "kelp-2x.jpg"):
        home.out("ida", "journal", name).write_bytes(b"another's")
    save_jpeg(home.drop() / "kelp@journal.jpg", 900, 600, seed=4)

    said = sweep(home).said

    assert "called “kelp-2.jpg”" in said
    assert "called “kelp-2-2x.jpg”" in said
