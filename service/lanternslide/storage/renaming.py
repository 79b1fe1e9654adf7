"""Renaming without ever replacing a file."""

from __future__ import annotations

import ctypes
import errno
import os
import sys
from functools import cache
from pathlib import Path
from typing import Any

__all__ = ["rename_new"]

AT_FDCWD = -100
RENAME_NOREPLACE = 1
"""Numbers of rename(2), Linux."""

NOT_THERE = frozenset({errno.ENOSYS, errno.EINVAL})
"""What a kernel or a file system answers that has no such rename."""


def rename_new(source: Path, target: Path) -> bool:
    """Rename *source* to *target*; return False if that name is taken.

    On Linux in one step (renameat2 with RENAME_NOREPLACE, rename(2)); on Windows a rename never replaces. Elsewhere,
    and on file systems without it, the look and the rename are two steps.

    Raises
    ------
    OSError
        If the system refuses it.
    """
    rename = _renameat2() if sys.platform == "linux" else None
    if rename is not None:
        if rename(AT_FDCWD, os.fsencode(source), AT_FDCWD, os.fsencode(target), RENAME_NOREPLACE) == 0:
            return True
        number = ctypes.get_errno()
        if number == errno.EEXIST:
            return False
        if number not in NOT_THERE:
            raise OSError(number, os.strerror(number), os.fspath(target))
    if os.path.lexists(target):
        return False
    try:
        source.rename(target)
    except FileExistsError:  # it was taken in this moment; Windows says so
        return False
    return True


@cache
def _renameat2() -> Any:
    """Return the C library's function, None where there is none."""
    return getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
