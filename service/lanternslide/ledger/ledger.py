"""The ledger: a database, and what it knows in parts, by who uses it. One writer: the main process."""

from __future__ import annotations

import sqlite3
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from lanternslide.errors import PassingFaultError
from lanternslide.ledger.database import open_database, open_empty, open_to_read, query, stored_place
from lanternslide.ledger.deliveries import Deliveries
from lanternslide.ledger.folders import Folders
from lanternslide.ledger.notes import Notes
from lanternslide.ledger.older import OlderWork
from lanternslide.ledger.originals import Originals
from lanternslide.ledger.reading import Reading
from lanternslide.ledger.sheets import Sheets
from lanternslide.ledger.state_folder.presence import Presence
from lanternslide.ledger.state_folder.session import begin_session, end_session
from lanternslide.ledger.state_folder.soundness import faults_of
from lanternslide.ledger.store import storage
from lanternslide.ledger.withdrawals import Withdrawals

__all__ = ["LEDGER_FILE", "Ledger"]

LEDGER_FILE = "ledger.sqlite"
"""The ledger's file in a state folder."""


class Ledger:
    """What was seen, what is to be made, what stands published; closed at the end of its `with`."""

    def __init__(self, folder: Path, connection: sqlite3.Connection | None = None) -> None:
        self.folder = folder  #: The state folder.
        self._is_written = connection is None
        self._connection = opened = connection or open_database(folder / LEDGER_FILE)
        self.presence = Presence(folder / LEDGER_FILE)  #: Whether it is still there.
        opened.create_function("place_of", 1, stored_place, deterministic=True)
        with storage():
            self.name: str = opened.execute(query("ledger_name")).fetchone()["name"]
            """Tells this ledger's temporary files from others'."""
        self.originals = Originals(opened)  #: For who finds pictures, and takes them to their end.
        self.deliveries = Deliveries(opened)  #: For who publishes.
        self.withdrawals = Withdrawals(opened, self.originals, self.deliveries)  #: For what owners ask for.
        self.folders = Folders(opened)  #: For who asks whether a folder can be believed.
        self.older = OlderWork(opened)  #: For what is made again.
        self.reading = Reading(opened)  #: For commands that only read.
        self.sheets = Sheets(opened)  #: For proof sheets.
        self.notes = Notes(opened)  #: For what the service is run with.

    @classmethod
    def to_read(cls, folder: Path) -> Self | None:
        """Return the ledger for reading alone, beside a running service; None if there is none yet."""
        connection = open_to_read(folder / LEDGER_FILE)
        return None if connection is None else cls(folder, connection)

    @classmethod
    def empty(cls, folder: Path) -> Self:
        """Return a ledger that knows nothing and is kept nowhere, in place of one that is not there yet."""
        return cls(folder, open_empty())

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._connection.close()
        if self._is_written and self.presence.is_there():
            end_session(self.folder / LEDGER_FILE)

    def renew_word(self) -> None:
        """Give it another word, so that a plain copy of its file from before is known as another state."""
        if not self.presence.is_there():
            return
        with suppress(PassingFaultError), storage():  # a full disk is said where something is to be written
            begin_session(self._connection, self.folder / LEDGER_FILE)

    def faults(self) -> list[str]:
        """Return what is wrong inside the database; empty if nothing is."""
        with storage():
            return faults_of(self._connection)
