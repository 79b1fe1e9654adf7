"""What can still be read of a damaged ledger, in a new one.

Row by row: SQLite reads a table as far as its pages hold. Behind a page that does not, the next row is looked for that
can be read. What refers to a row that is lost, or contradicts one that was kept, is left out.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from lanternslide.errors import StateError
from lanternslide.ledger.database import open_database, open_empty, open_to_read
from lanternslide.ledger.state_folder.session import end_session, is_foreign, log_of, note_unsure
from lanternslide.ledger.state_folder.unusable import why

__all__ = ["COPY_PREFIX", "Salvaged", "salvage"]

COPY_PREFIX = ".lanternslide-salvage-"
"""What the name of a folder begins with that holds a copy of the damaged ledger meanwhile."""

NUMBERED = ("original", "delivery")
"""Tables whose rows have a number, what is referred to first."""

NAMED = {"recall": "original, destination", "earlier": "path", "used_folder": "path", "noted": "name"}
"""Tables whose rows have a name: what they are sorted by."""

FARTHEST = 2**32
"""So far behind a row that cannot be read the next one is looked for."""


@dataclass(kw_only=True, slots=True)
class Salvaged:
    """How much of a damaged ledger is in the new one."""

    originals: int = 0
    deliveries: int = 0


def salvage(damaged: Path | None, new: Path) -> Salvaged:
    """Make the ledger *new*, with what can be read of the database *damaged*, if there is one, which is only read.

    Its log is read with it, if it is its own. A ledger of a former format is brought forward where that still works. A
    damaged one of a former format gives what has the same columns today.

    Raises
    ------
    OSError, StateError
        If *new* cannot be written, or *damaged* not be read at all.
    """
    try:
        found = _salvaged(damaged, new)
    except sqlite3.Error as error:
        raise StateError(f"The folder {new.parent} cannot be used ({why(error)}).") from error
    end_session(new)
    return found


def _salvaged(damaged: Path | None, new: Path) -> Salvaged:
    found = Salvaged()
    with (
        closing(open_database(new)) as target,
        tempfile.TemporaryDirectory(dir=new.parent, prefix=COPY_PREFIX) as folder,
    ):
        with closing(_copied(damaged, Path(folder))) as source:
            for table in NUMBERED:
                _put(target, table, _numbered(source, table))
            for table, order in NAMED.items():
                _put(target, table, _named(source, table, order))
            # Before it has its name: what it may have forgotten is not published before somebody has looked.
            note_unsure(target)
            with suppress(sqlite3.DatabaseError):
                name = source.execute("SELECT name FROM ledger").fetchone()
                if name is not None:
                    target.execute("UPDATE ledger SET name = ?", (name[0],))
        found.originals, found.deliveries = (
            target.execute(f"SELECT count(*) FROM {table}").fetchone()[0]  # noqa: S608 - a constant
            for table in NUMBERED
        )
    return found


def _copied(damaged: Path | None, folder: Path) -> sqlite3.Connection:
    """Return a connection to a copy, which may be written: SQLite brings its log in."""
    if damaged is None:
        return open_empty()
    copy = folder / damaged.name
    shutil.copyfile(damaged, copy)
    if log_of(damaged).exists() and not is_foreign(damaged):
        shutil.copyfile(log_of(damaged), log_of(copy))
    with suppress(StateError):  # a whole one of a former format, in this one
        if (whole := open_to_read(copy)) is not None:
            return whole
    return sqlite3.connect(copy, isolation_level=None)


def _put(target: sqlite3.Connection, table: str, rows: Iterator[sqlite3.Row]) -> None:
    known = {row[1] for row in target.execute(f"PRAGMA table_info({table})")}
    target.execute("BEGIN")
    for row in rows:
        columns = [name for name in row.keys() if name in known]  # noqa: SIM118 - a row yields its values
        marks = ", ".join("?" * len(columns))
        try:
            target.execute(
                f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})",  # noqa: S608 - names of the schema
                [row[name] for name in columns],
            )
        except sqlite3.IntegrityError:  # what it refers to is lost, or it is there already
            continue
    target.execute("COMMIT")


def _numbered(source: sqlite3.Connection, table: str) -> Iterator[sqlite3.Row]:
    """Yield the rows of a table that can be read, in the order of their numbers."""
    source.row_factory = sqlite3.Row
    first: int | None = 1
    while first is not None:
        try:
            for row in source.execute(
                f"SELECT * FROM {table} NOT INDEXED WHERE id >= ? ORDER BY id",  # noqa: S608 - a constant
                (first,),
            ):
                first = row["id"] + 1
                yield row
        except sqlite3.DatabaseError:
            # A cursor reads one row ahead: the last one before the fault was not yielded.
            single = _row_from(source, table, first)
            if single is not None:
                first = single["id"] + 1
                yield single
            else:
                first = _next_readable(source, table, first)
        else:
            return


def _next_readable(source: sqlite3.Connection, table: str, bad: int) -> int | None:
    """Return the first number behind *bad* from which rows can be read; None if there is none."""
    step = 1
    while step < FARTHEST and not _can_read(source, table, bad + step):
        step *= 2
    if step >= FARTHEST:
        return None
    lowest, highest = bad + step // 2, bad + step
    while highest - lowest > 1:
        middle = (lowest + highest) // 2
        lowest, highest = (lowest, middle) if _can_read(source, table, middle) else (middle, highest)
    return highest


def _can_read(source: sqlite3.Connection, table: str, number: int) -> bool:
    try:
        _first_row(source, table, number)
    except sqlite3.DatabaseError:
        return False
    return True


def _row_from(source: sqlite3.Connection, table: str, number: int) -> sqlite3.Row | None:
    """Return the row with a number, or the next one; None if there is none, or it cannot be read."""
    try:
        return _first_row(source, table, number)
    except sqlite3.DatabaseError:
        return None


def _first_row(source: sqlite3.Connection, table: str, number: int) -> sqlite3.Row | None:
    found: sqlite3.Row | None = source.execute(
        f"SELECT * FROM {table} NOT INDEXED WHERE id >= ? ORDER BY id LIMIT 1",  # noqa: S608 - a constant
        (number,),
    ).fetchone()
    return found


def _named(source: sqlite3.Connection, table: str, order: str) -> Iterator[sqlite3.Row]:
    """Yield the rows of a small table that can be read: from its beginning, and from its end."""
    source.row_factory = sqlite3.Row
    for way in ("ASC", "DESC"):
        direction = ", ".join(f"{column.strip()} {way}" for column in order.split(","))
        try:
            yield from source.execute(f"SELECT * FROM {table} ORDER BY {direction}")  # noqa: S608 - constants
        except sqlite3.DatabaseError:
            continue
        return
