"""Rows of a ledger copied, to have one that knows very many pictures within minutes.

Copies keep the lengths and the order of what the service has written, under other paths and at later times, so that
tables and indexes have the size and the depth that they would have; pages are filled a little better.
"""

from __future__ import annotations

import os
import sqlite3

__all__ = ["copy_up_to"]

ORIGINALS = """
INSERT INTO original (id, photographer, picture, path, size, mtime_ns, inode, digest, state, attempts)
SELECT id + :known, photographer, CAST(:prefix || CAST(picture AS TEXT) AS BLOB),
    CAST(:prefix || CAST(path AS TEXT) AS BLOB), size, mtime_ns, inode + :known, digest, state, attempts
FROM original WHERE id <= :number ORDER BY id
"""

DELIVERIES = """
INSERT INTO delivery (original, destination, density, wanted, state, made_from, recipe, output, output_size,
    output_digest, record, delivered_at, place, inherits, about, shown)
SELECT original + :known, destination, density, wanted, state, made_from, recipe,
    CAST(replace(CAST(output AS TEXT), '/club/', '/club/' || :prefix) AS BLOB), output_size, output_digest, record,
    strftime('%Y-%m-%dT%H:%M:%S+00:00', delivered_at, '+' || :seconds || ' seconds'),
    CAST(replace(CAST(place AS TEXT), '/club/', '/club/' || :prefix) AS BLOB), inherits, about, shown
FROM delivery WHERE original <= :number ORDER BY id
"""

STEP = 50_000
"""So many rows are copied in one transaction."""


def copy_up_to(connection: sqlite3.Connection, pictures: int) -> None:
    """Copy the first pictures of the ledger until it knows so many; their numbers must have no gaps."""
    (known,) = connection.execute("SELECT count(*) FROM original").fetchone()
    while known < pictures:
        number = min(known, pictures - known, STEP)
        # Two thousand deliveries a day, as those that are copied.
        values = {"known": known, "number": number, "prefix": f"{known:07d}/", "seconds": known * 86_400 // 2_000}
        connection.execute("BEGIN")
        connection.execute(ORIGINALS, {name: values[name] for name in ("known", "number", "prefix")})
        connection.execute(DELIVERIES, values)
        connection.execute("COMMIT")
        known += number
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    os.sync()  # what is measured next must not wait for the copies to reach the disk
