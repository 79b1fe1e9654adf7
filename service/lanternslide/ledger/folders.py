"""What the ledger knows of the folders that were used."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from lanternslide.ledger.store import Store

__all__ = ["Folders"]


class Folders(Store):
    """Destinations' folders, and the disks that they lay on.

    Nobody else writes them: what was read or written once is remembered.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        super().__init__(connection)
        # The mount of a used folder, if known; None for one that was not.
        self._folders: dict[Path, tuple[Path | None] | None] = {}

    def use(self, folder: Path, mount: Path) -> None:
        """Note that a destination's folder is there and in use, and where the disk is mounted that it lies on."""
        if self._used(folder) != (mount,):
            self._one("use_folder", path=os.fsencode(folder), mount=os.fsencode(mount))
            self._folders[folder] = (mount,)

    def mount_of(self, folder: Path) -> Path | None:
        """Return where the disk of a used folder was mounted; None if that is not known."""
        used = self._used(folder)
        return None if used is None else used[0]

    def has_used(self, folder: Path) -> bool:
        """Return whether a destination's folder was used before."""
        return self._used(folder) is not None

    def _used(self, folder: Path) -> tuple[Path | None] | None:
        if folder not in self._folders:
            row = self._one("used_folder", path=os.fsencode(folder))
            mount = None if row is None or row["mount"] is None else Path(os.fsdecode(row["mount"]))
            self._folders[folder] = None if row is None else (mount,)
        return self._folders[folder]

    def used(self) -> list[Path]:
        """Return all destination folders that were used."""
        return [Path(os.fsdecode(row["path"])) for row in self._all("used_folders")]
