"""Why a state folder cannot be used, and as whom it can."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from lanternslide.errors import StateClosedError, StateError
from lanternslide.words import told

__all__ = ["unusable"]


def unusable(folder: Path, error: OSError) -> StateError:
    """Return what to raise where *folder* cannot be read or written because of *error*."""
    owner = _other_owner(folder) if isinstance(error, PermissionError) else None
    if owner is not None:
        return StateClosedError(str(folder), owner)
    return StateError(f"The state folder {folder} cannot be used ({told(error)}).")


def _other_owner(folder: Path) -> str | None:
    """Return who owns *folder*, if that is another user than this one, and can be told."""
    if sys.platform == "win32":
        return None
    try:
        return None if folder.stat().st_uid == os.geteuid() else folder.owner()
    except (OSError, KeyError):  # it is not there, or its owner has no name
        return None
