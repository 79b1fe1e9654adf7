"""Room that is kept for what must be possible on a full disk: taking pictures back."""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from pathlib import Path

__all__ = ["keep_reserve", "release_reserve"]

RESERVE_FILE = "reserve"
RESERVE_BYTES = 4 * 2**20
"""Enough for a request, its reply, and some thousand withdrawals in the ledger's log."""

AMPLE = 16
"""It is kept where there is so many times more room."""


def keep_reserve(folder: Path) -> None:
    """Keep some room in a state folder, if there is ample; where that is not possible, there is none."""
    file = folder / RESERVE_FILE
    with suppress(OSError):
        is_kept = file.exists() and file.stat().st_size == RESERVE_BYTES
        if is_kept or shutil.disk_usage(folder).free < AMPLE * RESERVE_BYTES:
            return
        # Written out: a file system may not give room to what is only said to be there.
        file.write_bytes(os.urandom(RESERVE_BYTES))


def release_reserve(folder: Path) -> bool:
    """Give the room back; return whether there was any."""
    try:
        (folder / RESERVE_FILE).unlink()
    except OSError:
        return False
    return True
