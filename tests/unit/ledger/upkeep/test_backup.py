"""A copy of a ledger."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.errors import UsageError
from lanternslide.ledger import Ledger
from lanternslide.ledger.state_folder.session import BACKUP_WORD, WORD_AT
from lanternslide.ledger.upkeep.backup import back_up
from tests.support.ledgers import take_in


def test_a_copy_is_whole_while_the_ledger_is_written(tmp_path: Path) -> None:
    """It has what was committed, lies in one file, and no log is its own."""
    copy = tmp_path / "copies" / "ledger.sqlite"
    copy.parent.mkdir()
    with Ledger(tmp_path) as ledger:
        take_in(ledger)
        size = back_up(tmp_path / "ledger.sqlite", copy)
        take_in(ledger, "later.jpg")

    assert [path.name for path in copy.parent.iterdir()] == ["ledger.sqlite"]
    assert copy.stat().st_size == size
    assert copy.read_bytes()[WORD_AT : WORD_AT + 4] == BACKUP_WORD.to_bytes(4)
    with Ledger(copy.parent) as copied:
        assert len(copied.originals.known_of("ida")) == 1
        assert copied.faults() == []


def test_what_has_the_name_stays(tmp_path: Path) -> None:
    """Nothing is written over, and nothing is left beside it."""
    copy = tmp_path / "copy.sqlite"
    copy.write_text("somebody's")
    with Ledger(tmp_path), pytest.raises(UsageError, match=r"copy\.sqlite is there already"):
        back_up(tmp_path / "ledger.sqlite", copy)

    assert copy.read_text() == "somebody's"
    assert not (tmp_path / ".copy.sqlite.part").exists()


def test_without_a_ledger_there_is_nothing_to_copy(tmp_path: Path) -> None:
    """And no folder is a place for it that is not there."""
    with pytest.raises(UsageError, match="There is no ledger"):
        back_up(tmp_path / "ledger.sqlite", tmp_path / "copy.sqlite")
    with Ledger(tmp_path), pytest.raises(UsageError, match=r"could not be written"):
        back_up(tmp_path / "ledger.sqlite", tmp_path / "nowhere" / "copy.sqlite")


@pytest.mark.skipif(os.name != "posix", reason="another system's rights")
def test_a_copy_is_its_owners_alone(tmp_path: Path) -> None:
    """It holds the names of all pictures, whatever the umask."""
    before = os.umask(0)
    try:
        with Ledger(tmp_path):
            back_up(tmp_path / "ledger.sqlite", tmp_path / "copy.sqlite")
    finally:
        os.umask(before)

    assert (tmp_path / "copy.sqlite").stat().st_mode & 0o077 == 0


def test_a_busy_service_does_not_keep_it_from_its_end(tmp_path: Path) -> None:
    """Each of its commits would have a copy in parts begin anew."""
    with Ledger(tmp_path) as ledger:
        for number in range(3000):
            take_in(ledger, f"{number}.jpg")
    note = (
        "import sqlite3, sys, time; ledger = sqlite3.connect(sys.argv[1], timeout=60); ledger.execute('PRAGMA "
        "synchronous = OFF')\nwhile True: ledger.execute('UPDATE original SET attempts = attempts + 1 WHERE id < 9'); "
        "ledger.commit(); time.sleep(0.002)"
    )
    with Ledger(tmp_path):
        busy = subprocess.Popen([sys.executable, "-c", note, tmp_path / "ledger.sqlite"])
        try:
            started = (tmp_path / "ledger.sqlite-wal").stat().st_mtime_ns
            while (tmp_path / "ledger.sqlite-wal").stat().st_mtime_ns == started:
                assert busy.poll() is None
            back_up(tmp_path / "ledger.sqlite", tmp_path / "copy.sqlite")
        finally:
            busy.kill()
            busy.wait()

    with closing(sqlite3.connect(tmp_path / "copy.sqlite")) as copy:
        assert copy.execute("SELECT count(*) FROM original").fetchone() == (3000,)
