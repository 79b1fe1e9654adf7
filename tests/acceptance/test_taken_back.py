"""What was taken back stays away, whatever happens to the original meanwhile; what is left out goes."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from PIL import Image

from tests.support.pictures import save_jpeg, size_of
from tests.support.service import FILING, PLAIN, Home, make_home, run, sweep


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home with one photographer and three destinations."""
    return make_home(tmp_path)


def test_trying_all_that_is_held_again_brings_nothing_back(home: Home) -> None:
    """Only a `retry` that names a picture publishes again what was withdrawn of it."""
    original = save_jpeg(home.drop() / "x@club@journal.jpg", 1300, 900)
    assert sweep(home).status == 0
    assert run(home, "withdraw", original, "--destination", "journal").status == 0
    home.config.write_text(PLAIN.replace("workers = 2", "workers = 2\nmax_megapixels = 1"))
    os.utime(original)
    assert sweep(home).status == 1

    home.config.write_text(PLAIN)
    assert "1 original will be tried again" in run(home, "retry").output
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"club/x.jpg"}
    assert run(home, "retry", original).status == 0
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"club/x.jpg", "ida/journal/x.jpg"}


def test_what_comes_back_has_its_former_name(home: Home) -> None:
    """Of two originals with one name, each keeps the one that it was published under."""
    upright, across = home.drop() / "x@club.jpg", home.drop() / "x@club.tif"
    save_jpeg(upright, 400, 600)
    assert sweep(home).status == 0
    Image.new("RGB", (600, 400), (90, 120, 200)).save(across)
    assert sweep(home).status == 0
    before = {name: size_of(home.out(name)) for name in ("club/x.jpg", "club/x-2.jpg")}
    assert before == {"club/x.jpg": (400, 600), "club/x-2.jpg": (600, 400)}
    assert run(home, "withdraw", home.drop()).status == 0
    assert home.delivered() == {}

    for original in (across, upright):
        assert "The next `lanternslide sweep` does this." in run(home, "retry", original).output
        assert sweep(home).status == 0

    assert {name: size_of(home.out(name)) for name in before} == before


def test_a_new_time_ends_no_withdrawal_of_what_nobody_has_looked_into(home: Home) -> None:
    """Withdrawn before it was ever taken in, then touched: it stays away until it has other bytes."""
    original = save_jpeg(home.drop() / "x@club.jpg", 390, 270)
    assert run(home, "withdraw", original).status == 0
    assert sweep(home).status == 0
    for _ in range(2):
        os.utime(original)
        assert sweep(home).status == 0
        assert home.delivered() == {}
    save_jpeg(original, 360, 270, seed=2)
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"club/x.jpg"}


def test_a_withdrawn_folder_takes_no_older_export_for_the_picture(home: Home) -> None:
    """Of two exports that differ in their tags the newer is the picture, also where it is filed away: it comes back."""
    (home.root / "filed").mkdir()
    home.config.write_text(FILING)
    old = save_jpeg(home.drop() / "x@club@journal.jpg", 390, 270)
    os.utime(old, (1_600_000_000, 1_600_000_000))
    new = save_jpeg(home.drop() / "x@club.jpg", 360, 270, seed=2)
    os.utime(new, (1_700_000_000, 1_700_000_000))
    assert sweep(home).status == 0
    assert run(home, "withdraw", home.drop()).status == 0
    assert sweep(home).status == 0
    assert home.delivered() == {}
    assert run(home, "retry", home.drop()).output.startswith("ida: x@club.jpg will be tried again.")
    assert sweep(home).status == 0
    assert {name: size_of(home.out(name)) for name in home.delivered()} == {"club/x.jpg": (360, 270)}


def test_a_subfolder_that_was_deleted_is_missing(home: Home) -> None:
    """`sweep --missing` makes again what stood in a folder that its owner has deleted from a destination."""
    (home.drop() / "isles").mkdir()
    save_jpeg(home.drop() / "isles" / "x@club.jpg", 600, 400)
    assert sweep(home).status == 0
    before = home.delivered()
    shutil.rmtree(home.out("club", "isles"))
    assert sweep(home).status == 0
    assert home.delivered() == {}
    assert run(home, "sweep", "--missing").status == 0
    assert home.delivered() == before


def test_a_smaller_export_takes_the_larger_density_back(home: Home) -> None:
    """What is too small for twice the density leaves no former picture there; a larger one brings it back."""
    dense = PLAIN.replace("long_edge = 1600 }", "long_edge = 600 }\ndensities = [1, 2]")
    home.config.write_text(dense)
    original = save_jpeg(home.drop() / "x@journal.jpg", 1300, 900)
    assert sweep(home).status == 0
    assert set(home.delivered()) == {"ida/journal/x.jpg", "ida/journal/x-2x.jpg"}

    save_jpeg(original, 800, 900, seed=2)
    ran = sweep(home)
    assert ran.status == 0
    assert set(home.delivered()) == {"ida/journal/x.jpg"}
    assert [event["output"] for event in ran.events if event["event"] == "withdrawn"] == [
        str(home.out("ida", "journal", "x-2x.jpg"))
    ]
    assert run(home, "sweep", "--missing").status == 0
    assert set(home.delivered()) == {"ida/journal/x.jpg"}

    save_jpeg(original, 1300, 800, seed=3)
    assert sweep(home).status == 0
    assert size_of(home.out("ida", "journal", "x-2x.jpg")) == (1200, 738)

    # What somebody has changed there is theirs.
    home.out("ida", "journal", "x-2x.jpg").write_bytes(b"edited")
    save_jpeg(original, 800, 900, seed=4)
    assert sweep(home).status == 0
    assert home.out("ida", "journal", "x-2x.jpg").read_bytes() == b"edited"
