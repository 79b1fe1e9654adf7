"""Signs that a file is still being written, beyond its size and time."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from lanternslide.records.windows import in_use

__all__ = ["held_for_writing", "tail_is_zeros"]

TAIL_BYTES = 512


def tail_is_zeros(path: Path) -> bool:
    """Return whether the last bytes of the file (512, or all if it is shorter) are all zeros.

    Programs that reserve a file's whole length first leave such a tail until they are done. An empty file has no
    tail; a file that cannot be read does not look like it.
    """
    try:
        with path.open("rb") as stream:
            length = stream.seek(0, os.SEEK_END)
            stream.seek(max(0, length - TAIL_BYTES))
            tail = stream.read(TAIL_BYTES)
    except OSError:
        return False
    return bool(tail) and not any(tail)


def held_for_writing(path: Path) -> bool:
    """Return whether somebody has the file open for writing, where the system tells.

    Linux grants a read lease only where nobody has (fcntl(2), F_SETLEASE); it tells only the file's owner, or a
    process with CAP_LEASE, on local file systems. Windows refuses to open a file that its writer shares with nobody.
    Elsewhere the answer is False.
    """
    ask = _lease_is_refused if sys.platform == "linux" else _is_opened_by_one_alone
    return ask(path)


def _is_opened_by_one_alone(path: Path) -> bool:
    try:
        path.open("rb").close()
    except OSError as error:
        return in_use(error)
    return False


def _lease_is_refused(path: Path) -> bool:
    if sys.platform != "linux":
        return False
    import fcntl  # noqa: PLC0415 - it does not exist on Windows

    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    except OSError:
        return False
    try:
        fcntl.fcntl(descriptor, fcntl.F_SETLEASE, fcntl.F_RDLCK)
        fcntl.fcntl(descriptor, fcntl.F_SETLEASE, fcntl.F_UNLCK)
    except BlockingIOError:
        return True
    except OSError:
        return False
    finally:
        os.close(descriptor)
    return False
