"""A connection to the ledger's database: transactions, failures, and how hurried commits are."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.errors import StateUnwritableError
from lanternslide.ledger.database import open_database
from lanternslide.ledger.store import Store, storage

FULL, NORMAL = 2, 1
"""What SQLite calls the settings of "PRAGMA synchronous"."""


class Notes(Store):
    """Verbs as the ledger has them, with queries of its own."""

    def note(self, *names: str, fail: bool = False) -> None:
        """Note some names in one go."""
        with self._together():
            for name in names:
                self._one("note", item=name, value="yes")
            if fail:
                raise KeyError

    def noted(self) -> list[str]:
        """Return all names."""
        return [row["name"] for row in self._all("noted_below", prefix="")]

    def each(self) -> Iterator[str]:
        """Yield all names as they are read."""
        return (row["name"] for row in self._each("noted_below", prefix=""))

    def note_unhurried(self, name: str, *, fail: bool = False) -> int:
        """Note a name that a scan finds again; return how commits are synchronised meanwhile."""
        with self._unhurried():
            self.note(name, fail=fail)
            return self.synchronous()

    def synchronous(self) -> int:
        """Return how commits are synchronised."""
        found: int = self._connection.execute("PRAGMA synchronous").fetchone()[0]
        return found

    def hurry(self) -> None:
        """Do not wait for other writers."""
        self._connection.execute("PRAGMA busy_timeout = 10")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Return where a ledger lies."""
    return tmp_path / "ledger.sqlite"


@pytest.fixture
def notes(file: Path) -> Iterator[Notes]:
    """Return a store on a new ledger."""
    with closing(open_database(file)) as connection:
        yield Notes(connection)


def seen_by_others(file: Path) -> list[str]:
    """Return the names that another connection sees."""
    with closing(open_database(file)) as connection:
        return Notes(connection).noted()


def test_what_belongs_together_is_there_whole(file: Path, notes: Notes) -> None:
    """For everybody, once it is done."""
    notes.note("a", "b")

    assert seen_by_others(file) == ["a", "b"]


def test_or_not_at_all(file: Path, notes: Notes) -> None:
    """An error takes all of it back and is passed on as it is; the next time goes well."""
    with pytest.raises(KeyError):
        notes.note("a", "b", fail=True)
    assert notes.noted() == seen_by_others(file) == []

    notes.note("c")
    assert seen_by_others(file) == ["c"]


def test_a_failure_of_the_database_stops_loudly(file: Path, notes: Notes) -> None:
    """Another writer holds it for too long: that is no bad input, and says what SQLite says."""
    notes.hurry()
    with closing(sqlite3.connect(file, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StateUnwritableError, match="another program holds it") as error:
            notes.note("a")
    assert error.value.exit_status == 4

    notes.note("a")
    assert notes.noted() == ["a"]


def test_a_failure_while_rows_are_read_stops_loudly(file: Path, notes: Notes) -> None:
    """Also where they are read one by one."""
    rows = notes.each()
    with closing(sqlite3.connect(file)) as other:
        other.execute("DROP TABLE noted")

    with pytest.raises(StateUnwritableError, match="no such table"):
        list(rows)


def test_other_errors_are_passed_on() -> None:
    """They are somebody else's matter."""
    with pytest.raises(KeyError), storage():
        raise KeyError


def test_only_what_a_scan_finds_again_is_unhurried(notes: Notes) -> None:
    """Every other commit is on the disk before it counts (SQLite documentation, "PRAGMA synchronous")."""
    assert notes.synchronous() == FULL
    assert notes.note_unhurried("a") == NORMAL
    assert notes.synchronous() == FULL


def test_after_an_error_commits_are_hurried_again(notes: Notes) -> None:
    """What comes next may be an intent."""
    with pytest.raises(KeyError):
        notes.note_unhurried("a", fail=True)

    assert notes.synchronous() == FULL
    assert notes.noted() == []


def test_what_is_closed_is_told_as_a_failure_of_the_storage(file: Path) -> None:
    """Nothing is asked of it after that."""
    with closing(open_database(file)) as connection:
        notes = Notes(connection)
        notes.note("a")

    with pytest.raises(StateUnwritableError):
        notes.noted()
