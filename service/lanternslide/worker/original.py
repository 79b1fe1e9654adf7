"""Opening an original, and telling faults that pass from those that stay."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from lanternslide.errors import OriginalHeldError, PassingFaultError
from lanternslide.records import Changed, Fingerprint, Refused, Stalled
from lanternslide.records.windows import in_use, is_link
from lanternslide.words import Passing

__all__ = ["Opened", "OriginalChangedError", "answer_of", "flag", "opened"]

Found = TypeVar("Found")

READ_BYTES = 1 << 20
DESCRIPTORS = Path("/proc/self/fd")
"""By such a path Linux opens the very file that is open already (proc(5))."""

ANOTHER = frozenset({errno.ENOENT, errno.ENOTDIR, errno.ELOOP})
"""What the system answers where the original is gone, or a link is in its place."""


class OriginalChangedError(Exception):
    """The original is gone or no longer what had settled."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Opened:
    """An original that was opened without following a link, and is the one that had settled."""

    path: Path  #: What readers open it by: always the same file, whatever its name leads to by now.
    descriptor: int

    def digest(self) -> str:
        """Return the SHA-256 of the whole file, hexadecimal; once only."""
        hashed = hashlib.sha256()
        while chunk := os.read(self.descriptor, READ_BYTES):
            hashed.update(chunk)
        return hashed.hexdigest()


@contextmanager
def opened(root: Path, path: Path, expected: Fingerprint) -> Iterator[Opened]:
    """Open the original at *path* below *root* for reading, and check at both ends that it is what had settled.

    Links are followed up to *root*, the drop folder, and none below it, so that nobody can lead the service out of it
    in the moment between looking and opening (openat(2) with O_NOFOLLOW for each folder). Windows cannot do that: there
    each folder is looked at before and after, which leaves a moment.

    Raises
    ------
    OriginalChangedError
        If it is not, or no longer, the regular file with the *expected* fingerprint.
    OSError
        If it cannot be read.
    """
    descriptor = _open(root, path)
    try:
        _check(os.fstat(descriptor), expected)
        by = DESCRIPTORS / str(descriptor)
        yield Opened(path=by if by.exists() else path, descriptor=descriptor)
        _check(os.fstat(descriptor), expected)
    finally:
        os.close(descriptor)


def _open(root: Path, path: Path) -> int:
    way = _open_folder_by_folder if os.open in os.supports_dir_fd else _open_between_looks
    try:
        return way(root, path)
    except OSError as error:
        if error.errno in ANOTHER:
            raise OriginalChangedError from error
        raise


def flag(name: str) -> int:
    """Return a flag of open(2), 0 where the system has it not."""
    flag: int = getattr(os, name, 0)
    return flag


def _open_folder_by_folder(root: Path, path: Path) -> int:
    *folders, name = path.relative_to(root).parts
    folder = os.open(root, os.O_RDONLY | flag("O_DIRECTORY"))
    try:
        for part in folders:
            inner = os.open(part, os.O_RDONLY | flag("O_DIRECTORY") | flag("O_NOFOLLOW"), dir_fd=folder)
            os.close(folder)
            folder = inner
        return os.open(name, os.O_RDONLY | flag("O_NOFOLLOW") | flag("O_NONBLOCK"), dir_fd=folder)
    finally:
        os.close(folder)


def _open_between_looks(root: Path, path: Path) -> int:
    _check_way(root, path)
    descriptor = os.open(path, os.O_RDONLY | flag("O_BINARY"))
    try:
        _check_way(root, path)
    except BaseException:
        os.close(descriptor)
        raise
    return descriptor


def _check_way(root: Path, path: Path) -> None:
    """Make sure that nothing below *root* on the way to *path* is a link or a junction."""
    way = root
    for part in path.relative_to(root).parts:
        way /= part
        if is_link(way.lstat()):
            raise OriginalChangedError


def _check(status: os.stat_result, expected: Fingerprint) -> None:
    if not stat.S_ISREG(status.st_mode) or Fingerprint.of(status) != expected:
        raise OriginalChangedError


def answer_of(look: Callable[[], Found]) -> Found | Refused | Stalled | Changed:
    """Return what *look*, which opens an original, finds; or why it is refused or stalled; or that it has changed."""
    try:
        return look()
    except OriginalChangedError:
        return Changed()
    except OriginalHeldError as held:
        return Refused(said=held.said)
    except PassingFaultError as fault:
        return Stalled(said=fault.said)
    except OSError as error:
        return Stalled(said=_unreadable(error).said)


def _unreadable(error: OSError) -> PassingFaultError:
    """Return what it means that an original cannot be read."""
    if error.errno in (errno.EACCES, errno.EPERM) and not in_use(error):
        return PassingFaultError(Passing.ORIGINAL_NOT_PERMITTED)
    return PassingFaultError(Passing.ORIGINAL_AWAY, detail=error)
