"""What the ledger knows of the folders that were used."""

from __future__ import annotations

import os
from pathlib import Path

from lanternslide.ledger.store import Store

__all__ = ["Folders"]


class Folders(Store):
    """Destinations' folders, and the disks that they lay on."""

    def use_folder(self, folder: Path, mount: Path) -> None:
        """Note that a destination's folder is there and in use, and where the disk is mounted that it lies on."""
        self._one("use_folder", path=os.fsencode(folder), mount=os.fsencode(mount))

    def mount_of(self, folder: Path) -> Path | None:
        """Return where the disk of a used folder was mounted; None if that is not known."""
        row = self._one("used_folder", path=os.fsencode(folder))
        return None if row is None or row["mount"] is None else Path(os.fsdecode(row["mount"]))

    def has_used(self, folder: Path) -> bool:
        """Return whether a destination's folder was used before."""
        return self._one("used_folder", path=os.fsencode(folder)) is not None

    def used_folders(self) -> list[Path]:
        """Return all destination folders that were used."""
        return [Path(os.fsdecode(row["path"])) for row in self._all("used_folders")]
