"""Making sure that a destination's folder is there, without ever taking an unmounted share for an empty one."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from lanternslide.errors import PassingFaultError
from lanternslide.storage.faults import folder_fault
from lanternslide.words import Passing

__all__ = ["check_folder", "ready_folder"]


def check_folder(fixed: Path, folder: Path, *, destination: str, used: bool) -> None:
    """Make sure that a destination's folder is there or may be made; the parameters are those of `ready_folder`.

    Raises
    ------
    PassingFaultError
        If it, or what it would be made in, is away.
    """
    try:
        if not folder.is_dir() and (used or not fixed.is_dir()):
            raise PassingFaultError(Passing.DESTINATION_AWAY, folder=folder, destination=destination)
    except OSError as error:
        raise folder_fault(folder, error) from error


def ready_folder(fixed: Path, folder: Path, below: Path, *, destination: str, used: bool) -> Path:
    """Return the folder ``folder / below``, made where that is right.

    Parameters
    ----------
    fixed
        The folder that must be there already: what stands above *folder*, or above the part of it that varies with
        the photographer.
    folder
        The destination's folder. It is made once; after it was *used*, its absence is a fault that may pass.
    below
        Folders below it, made as needed.
    destination
        Its name, for the message.
    used
        Whether something was delivered there before.

    Raises
    ------
    PassingFaultError
        If a folder that should be there is not, or cannot be made.
    """
    check_folder(fixed, folder, destination=destination, used=used)
    try:
        ready = folder / below
        for missing in reversed([path for path in (ready, *ready.parents) if not path.is_dir()]):
            _make_like_above(missing)
    except OSError as error:
        raise folder_fault(folder, error) from error
    return ready


def _make_like_above(folder: Path) -> None:
    """Make *folder*; a group that may write in the one above, as the photographers of a club, may write in it too."""
    shared = stat.S_IWGRP & folder.parent.stat().st_mode
    # A hardened service may not change modes that have the group inherited, so the folder gets its mode at once.
    umask = os.umask(0o077)
    os.umask(umask & ~shared)
    try:
        folder.mkdir(exist_ok=True)
    finally:
        os.umask(umask)
