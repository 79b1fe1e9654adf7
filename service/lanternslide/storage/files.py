"""Publishing a file so that nobody ever sees half of it.

The order: temporary file written and synced; (the ledger's intent); renamed; folder synced. What is *not*
promised: that a folder on a file system without rename, or whose server lies about syncing, survives a power cut.
"""

from __future__ import annotations

import errno
import hashlib
import os
import sys
from contextlib import suppress
from pathlib import Path

from lanternslide.storage.faults import folder_fault
from lanternslide.storage.patience import patiently
from lanternslide.storage.renaming import rename_new

__all__ = [
    "digest_of",
    "is_file_with",
    "move_new",
    "publish_new",
    "publish_over",
    "put_text",
    "remove_delivery",
    "remove_temporary",
    "set_mode",
    "sync_folder",
    "write_temporary",
]

NO_LINKS = frozenset({errno.EPERM, errno.ENOSYS, errno.EOPNOTSUPP, errno.EMLINK, errno.EXDEV, errno.EACCES})
"""What file systems answer that have no hard links."""

UNSYNCED = frozenset({errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP})
"""What file systems answer that cannot sync a folder, as some shares; names are kept there by the server alone."""


def write_temporary(path: Path, data: bytes) -> None:
    """Write *data* under the temporary name *path* and make sure that it is on disk.

    Raises
    ------
    PassingFaultError
        If the folder does not take it; nothing is left behind then.
    """
    try:
        # A leftover of an earlier attempt is ours by its name; a link in its place is not followed.
        path.unlink(missing_ok=True)
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        with os.fdopen(descriptor, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as error:
        fault = folder_fault(path.parent, error)
        remove_temporary(path)
        raise fault from error


def set_mode(path: Path, mode: int) -> None:
    """Give a file permissions, whatever the umask; a file system without them keeps its own."""
    if sys.platform != "win32":
        with suppress(OSError):
            path.chmod(mode, follow_symlinks=False) if os.chmod in os.supports_follow_symlinks else path.chmod(mode)


def remove_temporary(path: Path) -> None:
    """Delete a temporary file, if it is there and the folder allows it; the next start sweeps what is left."""
    try:
        path.unlink(missing_ok=True)
    except OSError:
        return


def publish_new(temporary: Path, target: Path) -> bool:
    """Give *temporary* the name *target*; return False if that name is taken. Never writes over a file.

    Raises
    ------
    PassingFaultError
        If the folder does not take it.
    """
    try:
        # On Windows a rename alone never replaces a file, and memory cards there know no links.
        if not (patiently(rename_new, temporary, target) if sys.platform == "win32" else _link(temporary, target)):
            return False
        sync_folder(target.parent)
    except OSError as error:
        raise folder_fault(target.parent, error) from error
    return True


def _link(temporary: Path, target: Path) -> bool:
    """Give *temporary* the name *target* as a second one and take the first away; False if the name is taken."""
    try:
        os.link(temporary, target, follow_symlinks=False)
    except FileExistsError:
        return False
    except (NotImplementedError, OSError) as error:
        if isinstance(error, OSError) and error.errno not in NO_LINKS:
            raise
        return rename_new(temporary, target)
    temporary.unlink()
    return True


def move_new(original: Path, target: Path) -> bool:
    """Rename an original to *target*; return False if that name is taken. Never onto another file.

    Raises
    ------
    PassingFaultError
        If a folder does not allow it.
    """
    try:
        if not patiently(rename_new, original, target):
            return False
        sync_folder(target.parent)
        sync_folder(original.parent)
    except OSError as error:
        raise folder_fault(target.parent, error) from error
    return True


def put_text(path: Path, text: str | None) -> None:
    """Have *path* hold *text*, all at once; with None it is deleted. Its folder is made if need be.

    Raises
    ------
    PassingFaultError
        If the folder does not take it.
    """
    try:
        if text is None:
            patiently(path.unlink, missing_ok=True)
            path.with_name(f".{path.name}.part").unlink(missing_ok=True)
            return
        path.parent.mkdir(exist_ok=True)
        if path.is_file() and path.read_bytes() == text.encode():
            return
    except OSError as error:
        raise folder_fault(path.parent, error) from error
    temporary = path.with_name(f".{path.name}.part")
    write_temporary(temporary, text.encode())
    publish_over(temporary, path)


def publish_over(temporary: Path, target: Path) -> None:
    """Give *temporary* the name *target*, in place of the file that has it: one or the other is always there.

    Raises
    ------
    PassingFaultError
        If the folder does not take it.
    """
    try:
        patiently(temporary.replace, target)
        sync_folder(target.parent)
    except OSError as error:
        raise folder_fault(target.parent, error) from error


def remove_delivery(path: Path) -> None:
    """Delete a delivery, for good once this returns.

    Raises
    ------
    PassingFaultError
        If the folder does not allow it.
    """
    try:
        patiently(path.unlink, missing_ok=True)
        sync_folder(path.parent)
    except OSError as error:
        raise folder_fault(path.parent, error) from error


def sync_folder(folder: Path) -> None:
    """Have the names in a folder on disk, where the system can do that.

    Raises
    ------
    OSError
        If it cannot be.
    """
    if sys.platform == "win32":
        return  # a folder cannot be synced there; NTFS keeps its own journal of names
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in UNSYNCED:
            raise
    finally:
        os.close(descriptor)


def is_file_with(path: Path, size: int, digest: str) -> bool:
    """Return whether *path* is a regular file with this *size* and SHA-256 *digest*.

    Raises
    ------
    OSError
        If it is there and cannot be read.
    """
    if path.is_symlink() or not path.is_file() or path.stat().st_size != size:
        return False
    return digest_of(path) == digest


def digest_of(path: Path) -> str:
    """Return the SHA-256 digest of a file.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
