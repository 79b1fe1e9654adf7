"""Whole lives of pictures: what an owner does with originals and deliveries over time."""

from __future__ import annotations

import os
import shutil
import sqlite3
import unicodedata
from contextlib import closing
from pathlib import Path

import pytest
from PIL import Image

from tests.support.pictures import save_jpeg, size_of
from tests.support.service import PLAIN, Home, make_home, run, sweep, watching


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home with one photographer and three destinations."""
    return make_home(tmp_path)


def states(home: Home) -> list[str]:
    """Return the states of all originals that the ledger knows."""
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        return [state for (state,) in connection.execute("SELECT state FROM original")]


def doubts(events: list[dict[str, object]]) -> str:
    """Return all doubts of what was delivered."""
    return " ".join(str(event["doubts"]) for event in events if event["event"] == "delivered")


def test_a_picture_exported_again_under_another_ending(home: Home) -> None:
    """While both lie there they are two pictures; once the first is gone, the other one takes its name."""
    save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    assert sweep(home).status == 0
    save_jpeg(home.drop() / "north-stack@club.jpeg", 360, 270, seed=2)
    ran = sweep(home)
    assert {name: size_of(home.out(name)) for name in home.delivered()} == {
        "club/north-stack.jpg": (390, 270), "club/north-stack-2.jpg": (360, 270),
    }  # fmt: skip
    assert "already had the name" in doubts(ran.events)

    (home.drop() / "north-stack@club.jpg").unlink()
    (home.drop() / "north-stack@club.jpeg").unlink()
    save_jpeg(home.drop() / "north-stack@club.jpe", 330, 270, seed=3)
    ran = sweep(home)
    assert ran.status == 0
    assert size_of(home.out("club", "north-stack.jpg")) == (330, 270)
    assert size_of(home.out("club", "north-stack-2.jpg")) == (360, 270)
    assert "Another original had this name before and is gone" in doubts(ran.events)

    # It is that picture's own from then on.
    save_jpeg(home.drop() / "north-stack@club.jpe", 1000, 900, seed=4)
    assert sweep(home).status == 0
    assert size_of(home.out("club", "north-stack.jpg")) == (1000, 900)
    assert len(home.delivered()) == 2


def test_a_name_whose_owner_has_been_emptied_is_taken_over_too(home: Home) -> None:
    """The delivery was deleted by hand and the original as well: nothing is in the way of the name."""
    save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    assert sweep(home).status == 0
    (home.drop() / "north-stack@club.jpg").unlink()
    home.out("club", "north-stack.jpg").unlink()
    save_jpeg(home.drop() / "north-stack@club.jpeg", 360, 270)

    assert sweep(home).status == 0
    assert list(home.delivered()) == ["club/north-stack.jpg"]


def test_a_changed_delivery_of_a_picture_that_is_gone_is_its_owners(home: Home) -> None:
    """What somebody has edited in place is never written over, whoever is gone."""
    save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    assert sweep(home).status == 0
    (home.drop() / "north-stack@club.jpg").unlink()
    home.out("club", "north-stack.jpg").write_bytes(b"edited")
    save_jpeg(home.drop() / "north-stack@club.jpeg", 360, 270)

    assert sweep(home).status == 0
    assert home.out("club", "north-stack.jpg").read_bytes() == b"edited"
    assert size_of(home.out("club", "north-stack-2.jpg")) == (360, 270)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("Skerry", "skerry"),
        (unicodedata.normalize("NFC", "Sk\u00ebrry"), unicodedata.normalize("NFD", "Sk\u00ebrry")),
    ],
    ids=["case", "normal form"],
)
def test_names_that_a_web_server_or_share_takes_for_one(home: Home, first: str, second: str) -> None:
    """They stay apart in the destination, even where this file system would keep both."""
    save_jpeg(home.drop() / f"{first}@club.jpg", 390, 270)
    save_jpeg(home.drop() / f"{second}@club.jpg", 360, 270, seed=2)
    if len(list(home.drop().iterdir())) < 2:
        pytest.skip("this file system takes both names for one")

    assert sweep(home).status == 0
    names = {unicodedata.normalize("NFC", name).casefold() for name in home.delivered()}
    assert len(names) == 2
    assert {size_of(home.out(name)) for name in home.delivered()} == {(390, 270), (360, 270)}


def test_a_picture_moved_to_another_destinations_folder(home: Home) -> None:
    """It is delivered there; what stands in the first place stays until its owner withdraws it."""
    (home.drop() / "club").mkdir()
    (home.drop() / "journal").mkdir()
    original = save_jpeg(home.drop() / "club" / "north-stack.jpg", 390, 270)
    assert sweep(home).status == 0
    original.rename(home.drop() / "journal" / "north-stack.jpg")

    assert sweep(home).status == 0
    assert set(home.delivered()) == {"club/north-stack.jpg", "ida/journal/north-stack.jpg"}


def test_other_tags_replace_nothing_and_add_what_is_new(home: Home) -> None:
    """A tag more delivers there; a tag less leaves what stands."""
    original = save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    assert sweep(home).status == 0
    before = home.delivered()
    original.rename(home.drop() / "north-stack@journal.jpg")

    assert sweep(home).status == 0
    after = home.delivered()
    assert after.keys() == {"club/north-stack.jpg", "ida/journal/north-stack.jpg"}
    assert after["club/north-stack.jpg"] == before["club/north-stack.jpg"]


def test_an_original_that_is_removed_and_put_back(home: Home) -> None:
    """Nothing happens to its deliveries, and nothing is made twice."""
    original = save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    assert sweep(home).status == 0
    before = home.delivered()
    elsewhere = shutil.move(original, home.root / "elsewhere.jpg")
    assert sweep(home).status == 0
    assert home.delivered() == before
    shutil.copy(elsewhere, original)

    ran = sweep(home)
    assert ran.status == 0
    assert home.delivered() == before
    assert not [event for event in ran.events if event["event"] == "delivered"]


def test_two_exports_of_the_same_second_do_not_take_turns(home: Home) -> None:
    """Of two that differ only in their tags and have the same time, one stays; nothing is made twice."""
    for seed, name in enumerate(("x@club.jpg", "x@club@journal.jpg")):
        os.utime(save_jpeg(home.drop() / name, 390, 270, seed=seed), (1_600_000_000, 1_600_000_000))
    assert sweep(home).status == 0
    before = home.delivered()
    for _ in range(2):
        assert not [event for event in sweep(home).events if event["event"] == "delivered"]
    assert home.delivered() == before


def test_an_original_that_goes_while_it_is_made_is_gone(home: Home) -> None:
    """It is not at work for ever, nothing of it is published, and the sweep ends well."""
    with watching(home) as service:
        service.until_started()
        original = save_jpeg(home.drop() / "x@club.jpg", 4000, 3000)
        service.until(lambda: "working" in states(home), "the work")
        original.unlink()
        service.until(lambda: states(home) == ["gone"], "its end")
        assert service.stop() == 0
    assert home.delivered() == {}
    assert sweep(home).status == 0


def test_a_sweep_leaves_what_is_still_being_written(home: Home) -> None:
    """A file that somebody holds open is not waited for without end; that is said, and it is taken up later."""
    save_jpeg(home.drop() / "done@club.jpg", 600, 400)
    original = save_jpeg(home.drop() / "open@club.jpg", 600, 400)
    with original.open("r+b"):
        ran = sweep(home)
    if ran.status == 0:
        pytest.skip("this system does not tell who holds a file open")
    assert ran.status == 3
    assert "still writing this file" in str(ran.events)
    assert set(home.delivered()) == {"club/done.jpg"}
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"club/done.jpg", "club/open.jpg"}


def test_names_that_are_no_text_are_said_in_escapes(home: Home) -> None:
    """A tag, a folder and a long name with bytes that are no text: held or delivered, and the service goes on."""
    save_jpeg(home.drop() / "a.jpg", 600, 400)
    for name in (b"x@\xff.jpg", b"\xfe" * 210 + b"@club.jpg", "line\nend\u202e@club.jpg".encode()):
        shutil.copy(home.drop() / "a.jpg", home.drop() / os.fsdecode(name))
    ran = sweep(home)
    assert ran.status == 1
    (reason,) = ran.held().values()
    assert "“@\\xff”" in reason
    assert len(home.delivered()) == 4
    assert not [name for name in home.delivered() if Path(name).name.startswith(".")]
    assert "x@\\xff.jpg" in run(home, "status").output
    assert run(home, "withdraw", home.drop()).status == 0
    assert home.delivered() == {}


def test_a_picture_too_large_for_the_memory_is_held_with_both_figures(home: Home) -> None:
    """It stops nobody; with a larger budget it is taken up without being touched."""
    home.config.write_text(PLAIN.replace("workers = 2", 'workers = 1\nmemory = "210 MiB"'))
    Image.new("RGB", (8000, 4000), (90, 120, 30)).save(home.drop() / "panorama@club.jpg")
    save_jpeg(home.drop() / "small@club.jpg", 360, 240)

    ran = sweep(home)
    assert ran.status == 1
    assert "the whole budget is 210 MiB" in ran.held()["ida: panorama@club.jpg"]
    assert list(home.delivered()) == ["club/small.jpg"]

    home.config.write_text(PLAIN.replace("workers = 2", 'workers = 1\nmemory = "1 GiB"'))
    assert sweep(home).status == 0
    assert size_of(home.out("club", "panorama.jpg")) == (1920, 960)
