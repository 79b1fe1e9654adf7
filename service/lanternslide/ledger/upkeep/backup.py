"""A copy of a ledger, taken while a service works with it."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from lanternslide.errors import PassingFaultError, StateDamagedError, UsageError
from lanternslide.ledger.database import open_to_read
from lanternslide.ledger.state_folder.session import BACKUP_WORD, note_unsure, write_word
from lanternslide.ledger.state_folder.soundness import faults_of
from lanternslide.ledger.state_folder.unusable import why
from lanternslide.storage.files import publish_new
from lanternslide.words import Upkeep, say, told

__all__ = ["back_up"]

OWN_MODE = 0o600
"""It holds the names of all pictures: nobody else reads it."""


def back_up(ledger: Path, copy: Path) -> int:
    """Copy the database *ledger* to the new file *copy*, as it is at one moment, and return how many bytes that has.

    SQLite's own way (SQLite documentation, "Using the SQLite Online Backup API"). The copy is whole or not there; what
    has its name already stays.

    Raises
    ------
    StateDamagedError, StateError
        If the ledger cannot be read.
    UsageError
        If there is no ledger, or the copy cannot be made there.
    """
    source = open_to_read(ledger)
    if source is None:
        raise UsageError(say(Upkeep.NO_LEDGER_TO_COPY, folder=ledger.parent).text)
    temporary = copy.with_name(f".{copy.name}.part")
    with closing(source):
        try:
            temporary.unlink(missing_ok=True)
            os.close(os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWN_MODE))
            if fault := _copied(source, temporary):
                raise StateDamagedError(str(ledger), fault)
            _sync(temporary)
            size = temporary.stat().st_size
            if publish_new(temporary, copy):
                return size
        except sqlite3.Error as error:
            raise UsageError(say(Upkeep.COPY_FAILED, file=copy, detail=why(error)).text) from error
        except OSError as error:
            raise UsageError(say(Upkeep.COPY_FAILED, file=copy, detail=told(error)).text) from error
        except PassingFaultError as fault:
            raise UsageError(fault.said.text) from fault
        finally:
            with suppress(OSError):  # it is not there, or cannot be
                temporary.unlink(missing_ok=True)
    raise UsageError(say(Upkeep.COPY_THERE, file=copy).text)


def _copied(source: sqlite3.Connection, temporary: Path) -> str:
    """Copy everything; return what is wrong with the copy, or "" if nothing is.

    It is kept without a log, and no log is its own: what lies beside the ledger when it is put back is another's.
    """
    with closing(sqlite3.connect(temporary, isolation_level=None)) as target:
        source.backup(target)  # in one step: each commit of the service would have it begin anew otherwise
        target.execute("PRAGMA journal_mode = DELETE")
        note_unsure(target)
        write_word(target, BACKUP_WORD)
        return next(iter(faults_of(target)), "")


def _sync(file: Path) -> None:
    descriptor = os.open(file, os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
