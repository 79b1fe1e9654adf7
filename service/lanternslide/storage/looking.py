"""Whether something is there; where the system does not say, it is not: what follows from that must be harmless."""

from __future__ import annotations

import os
from pathlib import Path

__all__ = ["is_file", "is_folder", "is_gone", "is_there"]

# pathlib raises for what these take for "no": a share that is offline, a folder that may not be looked into.


def is_folder(path: Path) -> bool:
    """Return whether *path* is a folder, as far as the system says."""
    return os.path.isdir(path)  # noqa: PTH112


def is_file(path: Path) -> bool:
    """Return whether *path* is a file, as far as the system says."""
    return os.path.isfile(path)  # noqa: PTH113


def is_gone(path: Path) -> bool:
    """Return whether the name *path* is certainly not taken; where the system does not say, it may be."""
    try:
        path.lstat()
    except (FileNotFoundError, NotADirectoryError):
        return True
    except OSError:
        return False
    return False


def is_there(path: Path) -> bool:
    """Return whether the name *path* is taken, by a link too, as far as the system says."""
    return os.path.lexists(path)
