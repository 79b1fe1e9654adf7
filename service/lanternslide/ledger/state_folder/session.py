"""Which write-ahead log belongs to a ledger.

SQLite binds a log to a database by its name alone: a log that is left beside a copy that was put back is written into
that copy, and destroys it. So each time that a ledger is opened for work, a new word is written into its file, and into
a small file beside it, before the log grows. A log counts only where both have the same word.

Written in this order, so that a power cut between two steps leaves words that agree: both words beside, the new one in
the ledger and from the log into its file, the new one alone beside.
"""

from __future__ import annotations

import json
import secrets
import sqlite3
from contextlib import suppress
from pathlib import Path

from lanternslide.errors import PassingFaultError
from lanternslide.storage.files import put_text

__all__ = [
    "BACKUP_WORD",
    "UNSURE_NOTE",
    "begin_session",
    "end_session",
    "has_log",
    "is_another_state",
    "is_foreign",
    "is_log_lost",
    "keep_words",
    "log_of",
    "note_unsure",
    "word_beside",
    "word_inside",
    "write_word",
]

BACKUP_WORD = 1
"""The word of a copy: no log is its own."""

FEWEST, MOST = 2, 2**31
"""Between these lie the words of ledgers; 0 is that of a former version's."""

WORD_AT, WORD_BYTES = 68, 4
"""Where a database has its application id, which the word is (SQLite documentation, "Database File Format", 1.3)."""

UNSURE_NOTE = "unsure"
"""Under this name a ledger notes that it may have forgotten something: nothing is published before somebody looks."""

BEGINNING = b"SQLite format 3\0"
"""What every database begins with (there, section 1.3)."""

SUFFIX = ".session"

MAGIC = (0x377F0682, 0x377F0683)
"""What a write-ahead log begins with (SQLite documentation, "Database File Format", section 4.1)."""

HEADER_BYTES = 32


def log_of(file: Path) -> Path:
    """Return where SQLite keeps the write-ahead log of a database."""
    return file.with_name(f"{file.name}-wal")


def word_beside(file: Path) -> Path:
    """Return where the word of a ledger is kept, beside it."""
    return file.with_name(file.name + SUFFIX)


def has_log(file: Path) -> bool:
    """Return whether the write-ahead log beside the database holds anything."""
    try:
        return log_of(file).stat().st_size > 0
    except OSError:
        return False


def is_another_state(file: Path) -> bool:
    """Return whether a ledger's file is not the one that was last worked with: a copy from another time was put back.

    Where there is no word beside it, or the file cannot be read, nobody can tell: then it counts as the one.
    """
    before = _words(file)
    word = word_inside(file)
    # A service that starts meanwhile may have changed both.
    after = _words(file)
    return word is not None and bool(before) and bool(after) and word not in (*before, *after)


def is_foreign(file: Path) -> bool:
    """Return whether the log beside a ledger belongs to another ledger, or to another state of this one."""
    return has_log(file) and is_another_state(file)


def is_log_lost(file: Path) -> bool:
    """Return whether a ledger that was not closed in order has lost its log, or something else lies in its place.

    A copying program may have written the log into the ledger before, so that this is a suspicion, no proof.
    """
    if not _is_open(file):
        return False
    try:
        with log_of(file).open("rb") as stream:
            header = stream.read(HEADER_BYTES)
    except FileNotFoundError:
        return True
    except OSError:
        return False
    # An empty one is whole. So is one of zeros: a power cut leaves that of what was never acknowledged.
    return any(header) and int.from_bytes(header[:4]) not in MAGIC


def begin_session(connection: sqlite3.Connection, file: Path) -> None:
    """Give a ledger that was opened for work a new word.

    Raises
    ------
    PassingFaultError
        If the state folder does not take it.
    """
    (old,) = connection.execute("PRAGMA application_id").fetchone()
    new = FEWEST + secrets.randbelow(MOST - FEWEST)
    # Those of before count until the log is in the file: somebody who reads keeps it out.
    _note(file, list(dict.fromkeys((*_words(file), old, new))), is_open=True)
    write_word(connection, new)
    busy, *_ = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    if not busy:  # while somebody reads, the old word may still be the one in the file
        _note(file, [new], is_open=True)


def write_word(connection: sqlite3.Connection, word: int) -> None:
    """Give a database another word."""
    connection.execute(f"PRAGMA application_id = {word:d}")


def keep_words(file: Path) -> None:
    """Have what is beside a ledger say whose the log is, also where a former version has left none."""
    if not word_beside(file).exists() and (word := word_inside(file)) is not None:
        _note(file, [word], is_open=True)


def note_unsure(connection: sqlite3.Connection) -> None:
    """Note in a ledger that it may have forgotten something: it is a copy, or was made from what could be read."""
    connection.execute("INSERT OR REPLACE INTO noted (name, value) VALUES (?, '1')", (UNSURE_NOTE,))


def end_session(file: Path) -> None:
    """Note that a ledger was closed in order; its log is in it then, and gone."""
    with suppress(PassingFaultError):  # a full disk; the word stays, and nothing is missed
        _note(file, _words(file), is_open=False)


def _note(file: Path, words: list[int], *, is_open: bool) -> None:
    put_text(word_beside(file), json.dumps({"words": words, "is_open": is_open}) + "\n")


def _read(file: Path) -> dict[str, object]:
    try:
        found = json.loads(word_beside(file).read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _words(file: Path) -> list[int]:
    words = _read(file).get("words")
    return [word for word in words if isinstance(word, int)] if isinstance(words, list) else []


def _is_open(file: Path) -> bool:
    return _read(file).get("is_open") is True


def word_inside(file: Path) -> int | None:
    """Return the word in a ledger's file itself, without its log; None if it is no database, or cannot be read.

    0 is that of a ledger that a former version has left. Not to be asked of a ledger that this process has open:
    closing a file drops the locks that its process has on it (fcntl(2), "Advisory record locking").
    """
    try:
        with file.open("rb") as stream:
            header = stream.read(WORD_AT + WORD_BYTES)
    except OSError:
        return None
    is_database = header.startswith(BEGINNING) and len(header) == WORD_AT + WORD_BYTES
    return int.from_bytes(header[WORD_AT:]) if is_database else None
