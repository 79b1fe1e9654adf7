"""What files are like on Windows, as far as it is otherwise than elsewhere. Pure; everywhere else these say the usual.

Sources: Python documentation, `os.DirEntry.stat`, `os.stat_result` and `os.mkdir`; Microsoft Learn, "Reparse Point
Tags" and "System Error Codes (0-499)".
"""

from __future__ import annotations

import os
import stat
import sys

__all__ = ["file_number", "in_use", "is_link", "may_be_in_use", "private_mode"]

NAME_SURROGATE = 0x2000_0000
"""The bit of a reparse tag that says that a name stands for another: links, junctions, disks mounted in a folder. What
a cloud program keeps elsewhere until it is read has it not, and is a file like others."""

ACCESS_DENIED, SHARING_VIOLATION, LOCK_VIOLATION = 5, 32, 33


def file_number(status: os.stat_result) -> int:
    """Return a file's number in its file system.

    On Windows it is 0: listing a folder does not tell it, and shares and memory cards make it up anew.
    """
    return 0 if sys.platform == "win32" else status.st_ino


def is_link(status: os.stat_result) -> bool:
    """Return whether *status*, of a name itself, is that of a link or a junction, which may lead anywhere."""
    return stat.S_ISLNK(status.st_mode) or bool(getattr(status, "st_reparse_tag", 0) & NAME_SURROGATE)


def in_use(error: OSError) -> bool:
    """Return whether *error* says that another program has the file open and shares it with nobody."""
    return getattr(error, "winerror", None) in {SHARING_VIOLATION, LOCK_VIOLATION}


def may_be_in_use(error: OSError) -> bool:
    """Return whether *error*, met where a file was to be replaced or deleted, is one of two that Windows calls alike.

    A lack of rights, or another program that has the file open.
    """
    return getattr(error, "winerror", None) == ACCESS_DENIED


def private_mode() -> int:
    """Return the mode with which a folder is made that is nobody else's business.

    On Windows it is the usual one: there, 0o700 alone among all modes sets an access list of its own, protected, of the
    system, administrators and the owner. The owner of what an administrator's terminal makes may be the administrators
    all together, and a task with least privilege is none. What the folder around it allows is kept instead.
    """
    return 0o777 if sys.platform == "win32" else 0o700
