"""A connection to the ledger's database: named queries, transactions, and how hurried commits are."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from lanternslide.errors import StateDamagedError, StateUnwritableError
from lanternslide.ledger.database import query
from lanternslide.ledger.state_folder.unusable import PRIMARY, why

__all__ = ["Store", "storage"]


PAGES_LOST = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
"""What SQLite answers where a page is not as it should be."""


@contextmanager
def storage() -> Iterator[None]:
    """Turn a failure of the service's own storage into what stops it."""
    try:
        yield
    except sqlite3.Error as error:
        if getattr(error, "sqlite_errorcode", 0) & PRIMARY in PAGES_LOST:
            raise StateDamagedError("that the service works with", why(error)) from error
        raise StateUnwritableError(why(error)) from error


class Store:
    """What the ledger's parts are written with."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def _all(self, name: str, **values: Any) -> list[sqlite3.Row]:
        with storage():
            return self._connection.execute(query(name), values).fetchall()

    def _each(self, name: str, **values: Any) -> Iterator[sqlite3.Row]:
        """Yield the rows of a query as they are read, as things stood when it began."""
        with storage():
            yield from self._connection.execute(query(name), values)

    def _one(self, name: str, **values: Any) -> Any:
        with storage():
            return self._connection.execute(query(name), values).fetchone()

    @contextmanager
    def _together(self) -> Iterator[None]:
        with storage():
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
            except BaseException:
                self._connection.execute("ROLLBACK")
                raise
            self._connection.execute("COMMIT")

    @contextmanager
    def _unhurried(self) -> Iterator[None]:
        """While open, commits are not each written through to the disk.

        For what a scan finds out again: the next commit that is, before and after a rename, takes these along, since
        the write-ahead log keeps their order (SQLite documentation, "PRAGMA synchronous").
        """
        with storage():
            self._connection.execute("PRAGMA synchronous = NORMAL")
        try:
            yield
        finally:
            with storage():
                self._connection.execute("PRAGMA synchronous = FULL")
