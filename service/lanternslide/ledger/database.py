"""Opening the ledger's database, and its named queries."""

from __future__ import annotations

import errno
import os
import re
import secrets
import sqlite3
import sys
import unicodedata
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import cache
from importlib.resources import files
from pathlib import Path

from lanternslide.errors import PassingFaultError, StateDamagedError, StateError, StateNewerError
from lanternslide.ledger.state_folder.session import begin_session, log_of
from lanternslide.ledger.state_folder.soundness import damage_outside, is_damage, is_quickly_sound, missing_parts
from lanternslide.ledger.state_folder.unusable import REASONS, unusable, why

__all__ = ["FORMAT", "open_database", "open_empty", "open_to_read", "place_of", "query", "stored_place"]

FORMAT = 7
"""The format of the database, kept in its user_version."""

UNSYNCED = frozenset({errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP})
"""What file systems answer that cannot sync a folder."""

MOST_NAMED = 3
"""So many missing tables are named."""

NAME = re.compile(r"^-- name: (\w+)$", re.MULTILINE)


@cache
def _queries() -> dict[str, str]:
    text = files("lanternslide.ledger").joinpath("sql/queries.sql").read_text("utf-8")
    _, *parts = NAME.split(text)
    return dict(zip(parts[::2], parts[1::2], strict=True))


def query(name: str) -> str:
    """Return the query called *name* in queries.sql."""
    return _queries()[name]


def place_of(path: Path) -> bytes:
    """Return what is equal for paths that some file system takes for the same: without case, in Unicode form C.

    Photographers' shares and web servers differ in that; names that are no text are their own.
    """
    name = path.name
    try:
        name.encode("utf-8")
    except UnicodeEncodeError:
        return os.fsencode(path)
    plain = unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())
    return os.fsencode(path.parent) + b"/" + plain.encode("utf-8")


def stored_place(path: bytes) -> bytes:
    """Return the same for a path as the database holds it."""
    return place_of(Path(os.fsdecode(path)))


def open_database(file: Path) -> sqlite3.Connection:
    """Return a connection to the database *file*, which is made if it does not exist, and brought to this format.

    Before anything is written, it is looked at as far as a second allows. Write-ahead logging with synchronous=FULL:
    what was committed survives a power cut (SQLite documentation, "PRAGMA synchronous"; NORMAL does not promise that in
    WAL mode).

    Raises
    ------
    StateDamagedError, StateNewerError, StateError
        If it cannot be used; the file is never changed then.
    """
    try:
        if (looked_at := open_to_read(file, thoroughly=True)) is not None:
            looked_at.close()
        if not file.exists():
            _create(file)
        connection = sqlite3.connect(file, isolation_level=None)
    except OSError as error:
        raise unusable(file.parent, error) from error
    except sqlite3.Error as error:
        raise StateError(f"The ledger {file} cannot be opened ({why(error)}).") from error
    try:
        with _readable(file):
            _check_format(connection, file)
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            _migrate(connection, file)
            begin_session(connection, file)
    except PassingFaultError as fault:
        connection.close()
        raise StateError(fault.said.text) from fault
    except BaseException:
        connection.close()
        raise
    connection.row_factory = sqlite3.Row
    return connection


def open_to_read(file: Path, *, thoroughly: bool = False) -> sqlite3.Connection | None:
    """Return a connection that only reads the database *file*, beside a running service or without one.

    None if there is no ledger yet. One of an older format is read from a copy in memory, brought forward; the service
    does that to the file at its next start. Where there is no write-ahead log, which is so while no service runs, the
    file is read by itself, as it is: SQLite would make that log, and leave it, only to read (SQLite documentation,
    "Write-Ahead Logging", section 5). What a service that starts meanwhile writes is not seen then. Nor does this
    connection write the log into the file when it is closed. All pages are looked at only where that is asked for.

    Raises
    ------
    StateDamagedError, StateNewerError, StateError
        If it cannot be used.
    """
    try:
        damage = damage_outside(file)
        if damage is not None:
            raise StateDamagedError(str(file), damage)
        if not file.exists():
            return None
        way = "mode=ro" if log_of(file).exists() else "mode=ro&immutable=1"
        connection = sqlite3.connect(f"{file.absolute().as_uri()}?{way}", uri=True, isolation_level=None)
    except OSError as error:
        raise unusable(file.parent, error) from error
    except sqlite3.Error as error:
        raise StateError(f"The ledger {file} cannot be opened ({why(error)}).") from error
    try:
        with _readable(file):
            found = _check_format(connection, file)
            if thoroughly:
                _check_pages(connection, file)
            if found < FORMAT:
                connection = _brought_forward(connection)
            _check_parts(connection, file)
    except BaseException:
        connection.close()
        raise
    connection.row_factory = sqlite3.Row
    return connection


def open_empty() -> sqlite3.Connection:
    """Return a connection to an empty database in memory, which stands for a ledger that was never begun."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    _fill(connection)
    connection.row_factory = sqlite3.Row
    return connection


@contextmanager
def _readable(file: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.DatabaseError as error:
        if is_damage(error):
            raise StateDamagedError(str(file), why(error)) from error
        reason = why(error)
        raise StateError(f"The ledger {file} cannot be used ({reason}). Nothing is lost. Fix what is named.") from error


def _check_format(connection: sqlite3.Connection, file: Path) -> int:
    found: int = connection.execute("PRAGMA user_version").fetchone()[0]
    if found > FORMAT:
        raise StateNewerError(str(file), found, FORMAT)
    if found < 1:  # an empty file, or a database that is somebody else's
        raise StateDamagedError(str(file), "it does not say which format it has")
    return found


def _check_pages(connection: sqlite3.Connection, file: Path) -> None:
    if is_quickly_sound(connection) is False:
        raise StateDamagedError(str(file), REASONS[sqlite3.SQLITE_CORRUPT])


def _check_parts(connection: sqlite3.Connection, file: Path) -> None:
    if lacking := missing_parts(connection):
        raise StateDamagedError(str(file), f"it lacks {', '.join(lacking[:MOST_NAMED])}")


def _migrate(connection: sqlite3.Connection, file: Path) -> None:
    """Bring the database forward, one format after the other, each in one transaction; a copy of the old is kept."""
    (found,) = connection.execute("PRAGMA user_version").fetchone()
    if found == FORMAT:
        return
    copy = file.with_name(f"{file.name}.format-{found}")
    copy.unlink(missing_ok=True)  # of a migration that was cut off
    connection.execute("VACUUM INTO ?", (os.fspath(copy),))
    _bring_forward(connection, found)


def _brought_forward(connection: sqlite3.Connection) -> sqlite3.Connection:
    """Return a copy in memory of an older database, in this format; the *connection* is closed."""
    memory = sqlite3.connect(":memory:", isolation_level=None)
    with closing(connection):
        connection.backup(memory)
    _bring_forward(memory, memory.execute("PRAGMA user_version").fetchone()[0])
    return memory


def _bring_forward(connection: sqlite3.Connection, found: int) -> None:
    connection.create_function("place_of", 1, stored_place, deterministic=True)
    for number in range(found + 1, FORMAT + 1):
        script = files("lanternslide.ledger").joinpath(f"sql/migrations/{number}.sql").read_text("utf-8")
        try:
            connection.executescript(f"BEGIN IMMEDIATE; {script} PRAGMA user_version = {number}; COMMIT;")
        except sqlite3.Error:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def _create(file: Path) -> None:
    """Make the database under a temporary name, then give it its own: it is there whole or not at all."""
    temporary = file.with_name(f".{file.name}.new")
    temporary.unlink(missing_ok=True)
    with closing(sqlite3.connect(temporary, isolation_level=None)) as connection:
        _fill(connection)
    os.replace(temporary, file)  # noqa: PTH105 - the name of the promise
    if sys.platform != "win32":  # a folder cannot be synced there
        descriptor = os.open(file.parent, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        except OSError as error:
            if error.errno not in UNSYNCED:
                raise
        finally:
            os.close(descriptor)


def _fill(connection: sqlite3.Connection) -> None:
    """Give a new database its tables and its name."""
    schema = files("lanternslide.ledger").joinpath("sql/schema.sql").read_text("utf-8")
    connection.executescript(f"BEGIN; {schema} PRAGMA user_version = {FORMAT}; COMMIT;")
    connection.execute("INSERT INTO ledger (only, name) VALUES (1, ?)", (secrets.token_hex(4),))
