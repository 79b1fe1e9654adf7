"""Whether a ledger is whole."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.ledger import Ledger
from lanternslide.ledger.database import open_empty
from lanternslide.ledger.state_folder.session import log_of, word_beside
from lanternslide.ledger.state_folder.soundness import damage_outside, faults_of, is_quickly_sound, missing_parts
from tests.support.ledgers import file_of


@pytest.fixture
def connection() -> Iterator[sqlite3.Connection]:
    """Return a ledger in memory."""
    with closing(open_empty()) as opened:
        yield opened


def test_a_new_ledger_lacks_nothing(connection: sqlite3.Connection) -> None:
    """Nor is anything wrong with it."""
    assert missing_parts(connection) == []
    assert is_quickly_sound(connection) is True
    assert faults_of(connection) == []


@pytest.mark.parametrize(
    ("change", "missing"),
    [
        ("DROP TABLE used_folder", ["used_folder", "used_folder.mount", "used_folder.path"]),
        ("DROP INDEX delivery_output", ["delivery_output"]),
        ("ALTER TABLE original DROP COLUMN held_at", ["original.held_at"]),
    ],
)
def test_what_is_missing_is_named(connection: sqlite3.Connection, change: str, missing: list[str]) -> None:
    """Tables with their columns, indexes, single columns."""
    connection.execute(change)

    assert missing_parts(connection) == missing
    assert faults_of(connection)[: len(missing)] == [f"{part} is missing" for part in missing]


def test_more_than_todays_format_is_no_fault(connection: sqlite3.Connection) -> None:
    """An index that an owner has made, for example."""
    connection.execute("CREATE INDEX own ON original (size)")

    assert missing_parts(connection) == []


def test_a_large_ledger_is_not_waited_for(tmp_path: Path) -> None:
    """Where the time is up, nothing is known; the connection works on."""
    with Ledger(tmp_path) as ledger:
        for number in range(2000):
            ledger.originals.take_in(file_of(f"{number}.jpg"), Path(f"{number}.jpg"))
    with closing(sqlite3.connect(tmp_path / "ledger.sqlite")) as connection:
        assert is_quickly_sound(connection, seconds=0.0) is None
        assert is_quickly_sound(connection, seconds=60.0) is True


def test_what_is_seen_from_outside(tmp_path: Path) -> None:
    """Nothing where there never was a ledger; gone, with or without its log; empty."""
    file = tmp_path / "ledger.sqlite"
    assert damage_outside(file) is None
    with Ledger(tmp_path):
        assert damage_outside(file) is None
    file.unlink()
    assert damage_outside(file) == "it is gone"
    log_of(file).write_bytes(b"log")
    assert damage_outside(file) == "it is gone, and its log is left"
    word_beside(file).unlink()
    assert damage_outside(file) == "it is gone, and its log is left"
    file.touch()
    assert damage_outside(file) == "it is empty"
