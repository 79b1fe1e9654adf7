"""Whether a state folder is still the one that was opened, not merely one of its name."""

from __future__ import annotations

import os
from pathlib import Path

from lanternslide.storage.mounts import is_remote

__all__ = ["Presence"]


class Presence:
    """Remembers which folder and which file a ledger was opened in.

    An open database goes on taking what is written to it after its file was deleted, or its disk was taken away by
    force: nothing of that is there the next time.
    """

    def __init__(self, file: Path) -> None:
        self._paths = (file.parent, file)
        self._is_remote = is_remote(file.parent)
        self._identities = self._look()

    def is_there(self) -> bool:
        """Return whether folder and file are those that were opened."""
        return self._look() == self._identities

    def _look(self) -> tuple[object, ...]:
        found = tuple(map(_identity, self._paths))
        # Shares may number their files anew at any time.
        return tuple(one is None for one in found) if self._is_remote else found


def _identity(path: Path) -> tuple[int, int] | None:
    """Return what tells a file from every other on this machine; None where it is not there, or cannot be asked."""
    try:
        status = os.stat(path)  # noqa: PTH116 - the folder may be a link, and stays one
    except OSError:
        return None
    return status.st_dev, status.st_ino
