"""Room that is kept for what must be possible on a full disk: taking pictures back."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

__all__ = ["is_full", "keep_reserve", "release_reserve"]

RESERVE_FILE = "reserve"
RESERVE_BYTES = 4 * 2**20
"""Enough for a request, its reply, and some thousand withdrawals in the ledger's log."""

AMPLE = 16
"""It is kept where there is so many times more room."""


def keep_reserve(folder: Path) -> None:
    """Keep some room in a state folder, if there is ample; where that is not possible, there is none."""
    file = folder / RESERVE_FILE
    try:
        is_kept = file.exists() and file.stat().st_size == RESERVE_BYTES
        if is_kept or shutil.disk_usage(folder).free < AMPLE * RESERVE_BYTES:
            return
        # Written out: a file system may not give room to what is only said to be there.
        file.write_bytes(os.urandom(RESERVE_BYTES))
    except OSError:  # a part of it is of no use
        release_reserve(folder)


def is_full(folder: Path) -> bool:
    """Return whether a state folder's disk has no room for what a withdrawal writes."""
    try:
        return shutil.disk_usage(folder).free < RESERVE_BYTES // AMPLE
    except OSError:
        return False


def release_reserve(folder: Path) -> bool:
    """Give the room back; return whether there was any."""
    try:
        (folder / RESERVE_FILE).unlink()
    except OSError:
        return False
    return True
