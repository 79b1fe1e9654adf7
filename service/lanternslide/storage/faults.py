"""What it means when a folder cannot be written."""

from __future__ import annotations

import errno
from pathlib import Path

from lanternslide.errors import PassingFaultError
from lanternslide.records.windows import in_use, may_be_in_use
from lanternslide.words import Passing

__all__ = ["folder_fault"]

FULL = frozenset({errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)})
READ_ONLY = frozenset({errno.EROFS})
NOT_PERMITTED = frozenset({errno.EACCES, errno.EPERM})


def folder_fault(folder: Path, error: OSError) -> PassingFaultError:
    """Return the fault that *error* means for *folder*; what the system refuses may always pass."""
    if in_use(error):
        return PassingFaultError(Passing.FILE_IN_USE, folder=folder)
    if may_be_in_use(error):
        return PassingFaultError(Passing.REFUSED_OR_IN_USE, folder=folder)
    if error.errno in FULL:
        return PassingFaultError(Passing.DISK_FULL, folder=folder)
    if error.errno in READ_ONLY:
        return PassingFaultError(Passing.READ_ONLY, folder=folder)
    if error.errno in NOT_PERMITTED:
        return PassingFaultError(Passing.DESTINATION_NOT_PERMITTED, folder=folder)
    return PassingFaultError(Passing.FOLDER_TROUBLE, folder=folder, detail=error)
