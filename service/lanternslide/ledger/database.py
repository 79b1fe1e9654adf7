"""Opening the ledger's database, and its named queries."""

from __future__ import annotations

import os
import re
import secrets
import sqlite3
from contextlib import closing
from functools import cache
from importlib.resources import files
from pathlib import Path

from lanternslide.errors import StateDamagedError, StateError, StateNewerError

__all__ = ["FORMAT", "open_database", "query"]

FORMAT = 1
"""The format of the database, kept in its user_version."""

NAME = re.compile(r"^-- name: (\w+)$", re.MULTILINE)


@cache
def _queries() -> dict[str, str]:
    text = files("lanternslide.ledger").joinpath("sql/queries.sql").read_text("utf-8")
    _, *parts = NAME.split(text)
    return dict(zip(parts[::2], parts[1::2], strict=True))


def query(name: str) -> str:
    """Return the query called *name* in queries.sql."""
    return _queries()[name]


def open_database(file: Path) -> sqlite3.Connection:
    """Return a connection to the database *file*, which is made if it does not exist.

    Write-ahead logging with synchronous=FULL: what was committed survives a power cut (SQLite documentation,
    "PRAGMA synchronous"; NORMAL does not promise that in WAL mode).

    Raises
    ------
    StateDamagedError, StateNewerError, StateError
        If it cannot be used; the file is never changed then.
    """
    try:
        if not file.exists():
            _create(file)
        connection = sqlite3.connect(file, isolation_level=None)
    except OSError as error:
        raise StateError(f"The state folder {file.parent} cannot be used ({error.strerror}).") from error
    except sqlite3.Error as error:
        raise StateError(f"The ledger {file} cannot be opened ({error}).") from error
    try:
        _check(connection, file)
    except BaseException:
        connection.close()
        raise
    connection.row_factory = sqlite3.Row
    return connection


def _check(connection: sqlite3.Connection, file: Path) -> None:
    try:
        (found,) = connection.execute("PRAGMA user_version").fetchone()
        if found > FORMAT:
            raise StateNewerError(str(file), found, FORMAT)
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute(query("ledger_name")).fetchone()
    except sqlite3.DatabaseError as error:
        raise StateDamagedError(str(file), str(error)) from error


def _create(file: Path) -> None:
    """Make the database under a temporary name, then give it its own: it is there whole or not at all."""
    temporary = file.with_name(f".{file.name}.new")
    temporary.unlink(missing_ok=True)
    schema = files("lanternslide.ledger").joinpath("sql/schema.sql").read_text("utf-8")
    with closing(sqlite3.connect(temporary, isolation_level=None)) as connection:
        connection.executescript(f"BEGIN; {schema} PRAGMA user_version = {FORMAT}; COMMIT;")
        connection.execute("INSERT INTO ledger (only, name) VALUES (1, ?)", (secrets.token_hex(4),))
    os.replace(temporary, file)  # noqa: PTH105 - the name of the promise
