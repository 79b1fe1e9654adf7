"""Whether a ledger is whole: its pages, its tables, what belongs to what. Reads, and changes nothing."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from functools import cache
from importlib.resources import files
from pathlib import Path

from lanternslide.ledger.state_folder.session import has_log, is_foreign, word_beside
from lanternslide.ledger.state_folder.unusable import PRIMARY, why

__all__ = ["damage_outside", "faults_of", "is_damage", "is_quickly_sound", "missing_parts"]

QUICK_SECONDS = 1.0
"""So long a start may look for damage. A ledger of 100,000 pictures takes 0.6 s (tests/benchmarks/README.md)."""

DAMAGED = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_ERROR, sqlite3.SQLITE_SCHEMA})
"""What SQLite answers where the file itself is not as it should be."""

STEPS = 10_000
"""After so many steps of SQLite's machine the clock is looked at."""

MOST_FAULTS = 20


def damage_outside(file: Path) -> str | None:
    """Return what is seen to be wrong with a ledger before it is opened, for a person; None if nothing is.

    That its file is gone, or empty, or that the log beside it is not its own: opening it would make that worse.
    """
    try:
        size = file.stat().st_size
    except FileNotFoundError:
        if has_log(file):
            return "it is gone, and its log is left"
        return "it is gone" if word_beside(file).exists() else None
    if size == 0:
        return "it is empty"
    return "the log beside it is another ledger's" if is_foreign(file) else None


def missing_parts(connection: sqlite3.Connection) -> list[str]:
    """Return the tables and indexes of today's format that a database lacks, and columns as ``table.column``."""
    found = _parts(connection)
    return sorted(part for part in _whole() if part not in found)


def is_quickly_sound(connection: sqlite3.Connection, seconds: float = QUICK_SECONDS) -> bool | None:
    """Return whether a database's pages are as they should be; None if there was no time to look at them all."""
    end = time.monotonic() + seconds
    connection.set_progress_handler(lambda: time.monotonic() > end, STEPS)
    try:
        return [row[0] for row in connection.execute("PRAGMA quick_check(1)")] == ["ok"]
    except sqlite3.DatabaseError as error:
        if error.sqlite_errorcode == sqlite3.SQLITE_INTERRUPT:
            return None
        if is_damage(error):
            return False
        raise  # a disk with trouble, another program: that says nothing of the ledger
    finally:
        connection.set_progress_handler(None, 0)


def faults_of(connection: sqlite3.Connection) -> list[str]:
    """Return what is wrong inside a database (SQLite's own integrity and reference checks); empty if nothing is."""
    try:
        found = [f"{part} is missing" for part in missing_parts(connection)]
        checked = connection.execute(f"PRAGMA integrity_check({MOST_FAULTS})")
        found += [str(row[0]).splitlines()[0] for row in checked if row[0] != "ok"]
        found += [f"a row of {row[0]} belongs to nothing" for row in connection.execute("PRAGMA foreign_key_check")]
    except sqlite3.DatabaseError as error:
        if not is_damage(error):
            raise
        return [why(error)]
    return found


def is_damage(error: sqlite3.Error) -> bool:
    """Return whether SQLite says that the file itself is not as it should be; the rest is the disk's, or another's."""
    return getattr(error, "sqlite_errorcode", 0) & PRIMARY in DAMAGED


def _parts(connection: sqlite3.Connection) -> set[str]:
    tables = [row[0] for row in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
    parts = {row[0] for row in connection.execute("SELECT name FROM sqlite_schema")}
    for table in tables:
        parts |= {f"{table}.{row[0]}" for row in connection.execute("SELECT name FROM pragma_table_info(?)", (table,))}
    return parts


@cache
def _whole() -> frozenset[str]:
    with closing(sqlite3.connect(":memory:")) as connection:
        connection.executescript(files("lanternslide.ledger").joinpath("sql/schema.sql").read_text("utf-8"))
        return frozenset(part for part in _parts(connection) if not part.startswith("sqlite_"))
