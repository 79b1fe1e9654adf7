"""What takes long to make is made once per machine: folders below the system's temporary folder, one for each key."""

from __future__ import annotations

import fcntl
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from hashlib import sha256
from pathlib import Path

__all__ = ["folder", "kept", "key_of"]

KEEP = 4
"""Folders of one kind that stay; what was used longest ago goes first."""

_held: dict[Path, int] = {}
"""Shared locks of what this process uses, until it ends; by the folder."""


def key_of(*parts: bytes | str) -> str:
    """Return a short digest of what goes into something."""
    digest = sha256()
    for part in parts:
        data = part.encode() if isinstance(part, str) else part
        digest.update(len(data).to_bytes(8, "big") + data)
    return digest.hexdigest()[:16]


def folder() -> Path:
    """Return the folder of all that is kept; nobody but root reads or writes there.

    Raises
    ------
    PermissionError
        If somebody else has made it: what lies there would be run as root.
    """
    path = Path(tempfile.gettempdir()) / "lanternslide-tests"
    path.mkdir(mode=0o700, exist_ok=True)
    found = path.lstat()
    if path.is_symlink() or found.st_uid != os.geteuid() or found.st_mode & 0o077:
        raise PermissionError(f"{path} is not this user's own; delete it")
    return path


def kept(kind: str, key: str, make: Callable[[Path], None]) -> Path:
    """Return the folder of *kind* and *key*, filled by *make* if nobody has; it stays while this process lives.

    It is made under another name and renamed. Test runs at the same time wait for each other while one of this kind is
    made, and then use it together.
    """
    entry = folder() / f"{kind}-{key}"
    if entry not in _held:
        with _locked(folder() / f"{kind}.making"):
            if not entry.is_dir():
                _make(entry, make)
            use = os.open(f"{entry}.lock", os.O_RDWR | os.O_CREAT, 0o600)
            fcntl.flock(use, fcntl.LOCK_SH)
            os.utime(use)
            _held[entry] = use
            _tidy(kind)
    return entry


@contextmanager
def _locked(path: Path) -> Iterator[None]:
    lock = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield
    finally:
        os.close(lock)


def _make(entry: Path, make: Callable[[Path], None]) -> None:
    half = entry.with_name(f"{entry.name}.half")
    shutil.rmtree(half, ignore_errors=True)
    half.mkdir()
    half.chmod(0o755)
    try:
        make(half)
        half.rename(entry)
    finally:
        shutil.rmtree(half, ignore_errors=True)


def _tidy(kind: str) -> None:
    """Delete all but the last used of a kind, unless somebody uses them."""
    locks = sorted(folder().glob(f"{kind}-*.lock"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in locks[KEEP:]:
        lock = os.open(path, os.O_RDWR)
        with suppress(BlockingIOError):
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            for left in folder().glob(f"{path.stem}*"):
                if left.is_dir():
                    shutil.rmtree(left, ignore_errors=True)
            path.unlink()
        os.close(lock)
