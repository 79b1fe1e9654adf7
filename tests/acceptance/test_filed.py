"""Originals that are filed away are not forgotten."""

from __future__ import annotations

import os
import signal
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.intake import held_for_writing
from tests.support.pictures import save_jpeg, size_of
from tests.support.service import FILING, PLAIN, Home, make_home, run, sweep, watching

SMALL = FILING.replace("box = [1920, 1080]", "long_edge = 300")


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home whose photographer has finished originals filed away."""
    (tmp_path / "filed").mkdir()
    return make_home(tmp_path, FILING)


def test_a_torn_export_does_not_take_the_place_of_the_filed_one(home: Home) -> None:
    """A newer export is held, and its owner deletes it: the filed original counts again, and can be made again."""
    save_jpeg(home.drop() / "x@club.jpg", 600, 400)
    assert sweep(home).status == 0
    before = home.delivered()
    original = home.drop() / "x@journal.jpg"
    original.write_bytes((home.root / "filed" / "ida" / "x@club.jpg").read_bytes()[:2000])
    assert sweep(home).status == 1
    original.unlink()

    ran = sweep(home)
    assert ran.status == 0
    assert not [event for event in ran.events if event["event"] == "delivered"]
    assert home.delivered() == before
    home.config.write_text(SMALL)
    assert run(home, "sweep", "--again").status == 0
    assert size_of(home.out("club", "x.jpg")) == (300, 200)
    assert home.delivered().keys() == before.keys()


def test_a_filing_folder_that_is_away_is_no_loss(home: Home) -> None:
    """While what was asked for waits, the folder is renamed and renamed back: it is made then."""
    save_jpeg(home.drop() / "x@club.jpg", 600, 400)
    assert sweep(home).status == 0
    home.config.write_text(SMALL)
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite", isolation_level=None)) as ledger:
        # What `sweep --again` notes, cut off before it was made.
        ledger.execute("UPDATE original SET state = 'waiting'")
        ledger.execute("UPDATE delivery SET state = 'waiting', made_from = NULL")
    away = (home.root / "filed").rename(home.root / "away")
    sweep(home)
    away.rename(home.root / "filed")
    assert sweep(home).status == 0
    assert size_of(home.out("club", "x.jpg")) == (300, 200)


def test_a_filed_original_in_work_when_the_config_changes_is_looked_at_again_at_once(home: Home) -> None:
    """It is made by the new config, and waits for no scan."""
    home.config.write_text(FILING.replace("workers = 2", "workers = 1"))
    save_jpeg(home.drop() / "x@club.jpg", 6000, 4000)
    assert sweep(home).status == 0
    with watching(home) as service:
        service.until_started()
        large = home.config.read_text().replace("box = [1920, 1080]", "long_edge = 4000")
        home.config.write_text(large)
        assert run(home, "sweep", "--again").status == 0

        service.until(home.is_working, "the work", pause=0.01)
        (process,) = service.workers()
        os.kill(process, signal.SIGSTOP)
        home.config.write_text(large.replace("long_edge = 4000", "long_edge = 300"))
        before = sum(e["event"] == "config read again" for e in service.events())
        service.process.send_signal(signal.SIGHUP)
        service.until(
            lambda: sum(e["event"] == "config read again" for e in service.events()) > before, "the new config"
        )
        # The scan that follows a new config finds it in hand; the next one is minutes away.
        os.kill(process, signal.SIGCONT)
        service.until(lambda: size_of(home.out("club", "x.jpg")) == (300, 200), "the delivery")
        assert service.stop() == 0


def test_what_somebody_holds_open_is_not_filed_away(home: Home) -> None:
    """A program that writes into a finished original would write the next export into the filed one."""
    home.config.write_text(PLAIN)
    original = save_jpeg(home.drop() / "x@club.jpg", 600, 400)
    assert sweep(home).status == 0
    home.config.write_text(FILING)
    with original.open("r+b"):
        if not held_for_writing(original):
            pytest.skip("this system does not tell who holds a file open")
        assert sweep(home).status == 0
        assert original.is_file()
    assert sweep(home).status == 0
    assert not original.exists()
    assert (home.root / "filed" / "ida" / "x@club.jpg").is_file()
