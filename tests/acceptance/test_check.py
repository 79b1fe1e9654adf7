"""``check`` and ``status`` on a real home."""

from __future__ import annotations

import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

import pytest

from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, Home, make_home, run, sweep, watching

POWERLESS = ("unshare", "--user")
"""Gives up root's rights, under which every folder can be written."""


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home with one photographer and three destinations."""
    return make_home(tmp_path)


def test_all_is_well(home: Home) -> None:
    """Everything is named with what was found; nothing is written."""
    save_jpeg(home.drop() / "north-stack.jpg", 390, 270)
    before = sorted(home.root.rglob("*"))

    ran = run(home, "check")
    assert ran.status == 0, ran.output
    assert "drop/ida: 1 picture." in ran.output.replace("\n       ", "")
    assert "The first delivery makes it" in " ".join(ran.output.split())
    assert "wrong" not in ran.output
    assert sorted(home.root.rglob("*")) == before
    assert sweep(home).status == 0
    assert "is sound" in run(home, "check").output


def test_what_is_not_there_is_named(home: Home) -> None:
    """A drop folder and a folder above a destination that are away: both are said, and what to do."""
    home.drop().rmdir()
    home.out().rmdir()

    ran = run(home, "check")
    assert ran.status == 3
    text = " ".join(ran.output.split())
    assert "drop/ida is not there. Make it, or connect its share or disk." in text
    assert text.count("nor is") == 3


def test_a_damaged_ledger_is_found(home: Home) -> None:
    """Damage inside the database that opening does not see is found; its status tells."""
    for number in range(40):
        save_jpeg(home.drop() / f"{number}@club.jpg", 60, 40, seed=number)
    assert sweep(home).status == 0
    file = home.root / "state" / "ledger.sqlite"
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        (page,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'delivery'").fetchone()
        (size,) = connection.execute("PRAGMA page_size").fetchone()
    with file.open("r+b") as stream:
        stream.seek((page - 1) * size + 8)
        stream.write(b"\xff" * 200)

    ran = run(home, "check")
    assert ran.status == 4
    assert "is damaged" in " ".join(ran.output.split())


def test_filing_onto_another_disk_is_refused(home: Home) -> None:
    """A rename is not possible there; the config has to change."""
    other = Path("/dev/shm")  # noqa: S108 - another file system; nothing is written there
    if not other.is_dir() or other.stat().st_dev == home.drop().stat().st_dev:
        pytest.skip("there is no second file system at /dev/shm")
    home.config.write_text(PLAIN.replace('drop = "drop/ida"', 'drop = "drop/ida"\noriginals = "/dev/shm"'))

    ran = run(home, "check")
    assert ran.status == 2
    assert "is on another disk" in ran.said


def test_rights_that_are_missing_are_named(home: Home) -> None:
    """A folder that may not be written, or not be read."""
    if subprocess.run([*POWERLESS, "true"], capture_output=True, check=False).returncode != 0:
        pytest.skip("this machine does not let us give up root's rights with unshare --user")
    home.out().chmod(0o500)
    home.drop().chmod(0o000)
    try:
        ran = run(home, "check", before=POWERLESS)
    finally:
        home.out().chmod(0o700)
        home.drop().chmod(0o700)
    assert ran.status == 3
    text = " ".join(ran.output.split())
    assert "may not write into" in text
    assert "cannot be listed" in text


def test_status_says_what_runs_waits_and_is_held(home: Home) -> None:
    """Before the first start, with a service, and after it; files of other kinds are counted."""
    ran = run(home, "status")
    assert ran.status == 3
    assert "No service is running." in ran.output
    assert "Nothing was done with this state folder" in ran.output

    original = save_jpeg(home.drop() / "north-stack@club.jpg", 390, 270)
    save_jpeg(home.drop() / "south-stack@jornal.jpg", 390, 270)
    (home.drop() / "north-stack.xmp").touch()
    with watching(home) as service:
        service.until_told("batch done")
        ran = run(home, "status")
        assert ran.status == 1
        assert f"lanternslide watch, process {service.process.pid} is at work." in ran.output
        assert "ida: 1 delivered, 1 held" in ran.output
        assert "ida: south-stack@jornal.jpg" in ran.output
        assert "1 file of another kind in the drop folder" in ran.output
        original.rename(home.drop() / "north-stack@journal.jpg")
        service.until(lambda: len(home.delivered()) == 2, "the other destination")
        text = "".join(run(home, "status").output.split())  # a long path is folded
        assert "nolongeraskedfor" in text
        assert "club/north-stack.jpg" in text
        assert service.stop() == 0
    assert run(home, "status").status == 3
