"""Opening an original, and telling faults that pass from those that stay."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from pathlib import Path

from lanternslide.errors import PassingFaultError
from lanternslide.records import Fingerprint
from lanternslide.words import Passing

__all__ = ["OriginalChangedError", "check_unchanged", "digest_of", "unreadable"]

READ_BYTES = 1 << 20


class OriginalChangedError(Exception):
    """The original is gone or no longer what had settled."""


def digest_of(path: Path, expected: Fingerprint) -> str:
    """Return the SHA-256 of the file, hexadecimal.

    Raises
    ------
    OriginalChangedError
        If it is not, or no longer, the regular file with the *expected* fingerprint.
    OSError
        If it cannot be read.
    """
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        descriptor = os.open(path, flags)
    except FileNotFoundError as error:
        raise OriginalChangedError from error
    with os.fdopen(descriptor, "rb", buffering=0) as stream:
        _check(os.fstat(stream.fileno()), expected)
        hashed = hashlib.sha256()
        while chunk := stream.read(READ_BYTES):
            hashed.update(chunk)
        _check(os.fstat(stream.fileno()), expected)
    return hashed.hexdigest()


def _check(status: os.stat_result, expected: Fingerprint) -> None:
    if not stat.S_ISREG(status.st_mode) or Fingerprint.of(status) != expected:
        raise OriginalChangedError


def check_unchanged(path: Path, expected: Fingerprint) -> None:
    """Raise OriginalChangedError if the file no longer has the *expected* fingerprint."""
    try:
        _check(path.lstat(), expected)
    except FileNotFoundError as error:
        raise OriginalChangedError from error


def unreadable(error: OSError) -> PassingFaultError:
    """Return what it means that an original cannot be read."""
    if error.errno in (errno.EACCES, errno.EPERM):
        return PassingFaultError(Passing.ORIGINAL_NOT_PERMITTED)
    return PassingFaultError(Passing.ORIGINAL_AWAY, detail=error.strerror or str(error))
