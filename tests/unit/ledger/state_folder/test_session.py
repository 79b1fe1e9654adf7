"""Which write-ahead log belongs to a ledger, and what is seen of a log that is lost."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.ledger import Ledger
from lanternslide.ledger.state_folder.session import (
    BACKUP_WORD,
    end_session,
    has_log,
    is_foreign,
    is_log_lost,
    log_of,
    word_beside,
    write_word,
)
from tests.support.ledgers import take_in


@pytest.fixture
def file(tmp_path: Path) -> Iterator[Path]:
    """Return the file of a ledger that is open, with something in its log."""
    with Ledger(tmp_path) as ledger:
        take_in(ledger)
        yield tmp_path / "ledger.sqlite"


def words_of(file: Path) -> list[int]:
    """Return the words beside a ledger."""
    words: list[int] = json.loads(word_beside(file).read_text("utf-8"))["words"]
    return words


def test_a_ledgers_own_log_is_its_own(file: Path) -> None:
    """It has one word, inside and beside."""
    assert has_log(file)
    assert not is_foreign(file)
    assert len(words_of(file)) == 1


def test_each_opening_has_a_word_of_its_own(tmp_path: Path) -> None:
    """So that a state of yesterday is told from one of today."""
    words = []
    for _ in range(3):
        with Ledger(tmp_path):
            words += words_of(tmp_path / "ledger.sqlite")

    assert len(set(words)) == 3
    assert min(words) > BACKUP_WORD


def test_another_state_in_its_place_makes_the_log_foreign(tmp_path: Path) -> None:
    """A copy of an earlier state beside the log of a later one."""
    file = tmp_path / "ledger.sqlite"
    with Ledger(tmp_path):
        pass
    shutil.copyfile(file, tmp_path / "copy.sqlite")
    with Ledger(tmp_path) as ledger:
        take_in(ledger)
        shutil.copyfile(tmp_path / "copy.sqlite", tmp_path / "restored.sqlite")
        shutil.copyfile(log_of(file), log_of(tmp_path / "restored.sqlite"))
        shutil.copyfile(word_beside(file), word_beside(tmp_path / "restored.sqlite"))

    assert is_foreign(tmp_path / "restored.sqlite")


@pytest.mark.parametrize("beside", [None, "", "[]", '{"words": "none"}', '{"words": [], "is_open": true}'])
def test_where_nobody_can_tell_the_log_counts(file: Path, beside: str | None) -> None:
    """An older version has left no word, or somebody has spoilt it."""
    if beside is None:
        word_beside(file).unlink()
    else:
        word_beside(file).write_text(beside, "utf-8")

    assert not is_foreign(file)


def test_a_reader_in_the_way_leaves_both_words(tmp_path: Path) -> None:
    """The new one may wait in the log then: either state is the ledger's own."""
    file = tmp_path / "ledger.sqlite"
    with Ledger(tmp_path) as ledger:
        take_in(ledger)
    with closing(sqlite3.connect(file, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM original").fetchone()
        with Ledger(tmp_path):
            assert len(words_of(file)) == 2
            assert not is_foreign(file)


def test_no_log_is_a_copys_own(file: Path) -> None:
    """Whatever lies beside it when it is put back."""
    with closing(sqlite3.connect(file.with_name("copy.sqlite"))) as copy:
        copy.execute("CREATE TABLE any_table (x)")
        write_word(copy, BACKUP_WORD)
        copy.commit()
    copied = file.with_name("copy.sqlite")
    shutil.copyfile(log_of(file), log_of(copied))
    shutil.copyfile(word_beside(file), word_beside(copied))

    assert is_foreign(copied)


@pytest.mark.parametrize(
    ("log", "is_lost"),
    [(None, True), (b"", False), (bytes(4096), False), (b"no log, but text instead of one", True), ("own", False)],
)
def test_a_lost_log_is_suspected(file: Path, log: bytes | str | None, *, is_lost: bool) -> None:
    """Gone, or something else in its place; zeros are what a power cut leaves of what was never acknowledged."""
    if log is None:
        log_of(file).unlink()
    elif isinstance(log, bytes):
        log_of(file).write_bytes(log)

    assert is_log_lost(file) is is_lost


def test_a_ledger_that_was_closed_has_lost_nothing(tmp_path: Path) -> None:
    """Its log is in it, and gone."""
    with Ledger(tmp_path) as ledger:
        take_in(ledger)
    file = tmp_path / "ledger.sqlite"

    assert not log_of(file).exists()
    assert not is_log_lost(file)
    end_session(tmp_path / "nowhere" / "ledger.sqlite")  # a folder that has gone is no fault
