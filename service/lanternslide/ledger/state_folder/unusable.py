"""Why a state folder cannot be used, and as whom it can."""

from __future__ import annotations

import os
import sqlite3
import stat
import sys
from collections.abc import Mapping
from pathlib import Path

from lanternslide.errors import StateClosedError, StateError, StateOpenError
from lanternslide.words import told

__all__ = ["PRIMARY", "REASONS", "refuse_open", "unusable", "why"]

REASONS: Mapping[int, str] = {
    sqlite3.SQLITE_CORRUPT: "a part of it is missing or was overwritten",
    sqlite3.SQLITE_NOTADB: "it is no ledger, or was overwritten",
    sqlite3.SQLITE_FULL: "there is no room left for it",
    sqlite3.SQLITE_READONLY: "it is read-only",
    sqlite3.SQLITE_CANTOPEN: "the system does not open it",
    sqlite3.SQLITE_IOERR: "its disk has trouble",
    sqlite3.SQLITE_BUSY: "another program holds it",
    sqlite3.SQLITE_LOCKED: "another program holds it",
    sqlite3.SQLITE_NOMEM: "there is too little memory",
}
"""What SQLite's result codes mean (SQLite documentation, "Result and Error Codes"), in plain words."""

PRIMARY = 0xFF
"""The part of a code that extended ones share."""


def why(error: sqlite3.Error) -> str:
    """Return in plain words why a database cannot be used."""
    return REASONS.get(getattr(error, "sqlite_errorcode", 0) & PRIMARY, told(error))


def unusable(folder: Path, error: OSError) -> StateError:
    """Return what to raise where *folder* cannot be read or written because of *error*."""
    owner = _other_owner(folder) if isinstance(error, PermissionError) else None
    if owner is not None:
        return StateClosedError(str(folder), owner)
    return StateError(f"The state folder {folder} cannot be used ({told(error)}).")


def refuse_open(folder: Path) -> None:
    """Refuse a state folder that every user of the machine may write into: they could withdraw, and stop the service.

    Raises
    ------
    OSError
        If it cannot be asked.
    StateOpenError
        If it is one.
    """
    if sys.platform != "win32" and folder.stat().st_mode & stat.S_IWOTH:
        raise StateOpenError(str(folder))


def _other_owner(folder: Path) -> str | None:
    """Return who owns *folder*, if that is another user than this one, and can be told."""
    if sys.platform == "win32":
        return None
    try:
        return None if folder.stat().st_uid == os.geteuid() else folder.owner()
    except (OSError, KeyError):  # it is not there, or its owner has no name
        return None
