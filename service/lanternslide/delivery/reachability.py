"""What can be told about destinations' folders: one that hangs, is away, or whose disk is not mounted shows nothing."""

from __future__ import annotations

import os
import time
from pathlib import Path

from lanternslide.errors import PassingFaultError
from lanternslide.ledger import Folders
from lanternslide.storage import is_folder, is_gone
from lanternslide.storage.mounts import mounts
from lanternslide.storage.probe import Probe
from lanternslide.words import Passing

__all__ = ["Reachability"]

LATELY_SECONDS = 1.0
"""For so long the table of mounts is remembered where a folder was seen to be there a moment ago."""


class Reachability:
    """Knows which folders were used, and on which disks; absence is no fact where it cannot be told.

    An unmounted share leaves an empty folder behind, which nobody may take for the destination: neither may anything
    be written there, nor follows that what stood there was deleted.
    """

    def __init__(self, folders: Folders, probe: Probe) -> None:
        self._folders = folders
        self._probe = probe
        self._table: tuple[float, set[Path]] = (-LATELY_SECONDS, set())  # when it was read, and what is mounted

    def answers(self, folder: Path) -> bool:
        """Return whether the system answers when asked about *folder*.

        The disk or share that it is known to lie on is asked first: one that hangs is waited for once, not once for
        each folder there.
        """
        mount = self._folders.mount_of(folder)
        return (mount is None or self._probe.answers(mount)) and self._probe.answers(folder)

    def use(self, folder: Path) -> None:
        """Note that something is put into *folder*, and on which disk it lies.

        A disk may have come or gone since the table was read. What is not known yet, or known otherwise, is not noted
        by an old one.
        """
        read_at, mounted = self._table
        is_recent = time.monotonic() - read_at < LATELY_SECONDS
        if not is_recent or _mount_of(folder, mounted) != self._folders.mount_of(folder):
            mounted = _mounted()
            self._table = time.monotonic(), mounted
        self._folders.use(folder, _mount_of(folder, mounted))

    def has_used(self, folder: Path) -> bool:
        """Return whether something was put into *folder* before."""
        return self._folders.has_used(folder)

    def check(self, folder: Path, destination: str) -> None:
        """Make sure that what *folder* shows can be believed; it may be absent.

        Raises
        ------
        PassingFaultError
            If it does not answer, or its disk or share is not mounted.
        """
        if not self.answers(folder):
            raise PassingFaultError(Passing.DESTINATION_SILENT, folder=folder, destination=destination)
        there = _nearest(folder)
        if there is not None and _is_bare(there):
            self._check_mount(there, destination)

    def _check_mount(self, folder: Path, destination: str) -> None:
        """Make sure that the disk is mounted that a folder lay on when it was used."""
        mount = self._folders.mount_of(folder)
        if mount is not None and not _is_mounted(mount, _mounted()):
            raise PassingFaultError(Passing.DESTINATION_UNMOUNTED, folder=folder, destination=destination, mount=mount)

    def is_gone(self, path: Path, destination: str) -> bool:
        """Return whether a file certainly stands at *path* no longer; also where its folder was moved away."""
        try:
            self.check(path.parent, destination)
            self._check_mount(path.parent, destination)
        except PassingFaultError:
            return False
        return is_gone(path)

    def check_file(self, path: Path, destination: str) -> None:
        """Make sure that it can be told whether a file stands at *path*.

        Raises
        ------
        PassingFaultError
            If its folder does not answer or is away, or the disk that it lay on is, whatever lies in its place. A
            folder that was deleted inside a destination's folder is not: the file is certainly gone then.
        """
        self.check(path.parent, destination)
        self._check_mount(path.parent, destination)
        there = _nearest(path.parent)
        if there != path.parent and (there is None or not self._folders.has_used(there)):
            raise PassingFaultError(Passing.DESTINATION_AWAY, folder=path.parent, destination=destination)


def _nearest(folder: Path) -> Path | None:
    """Return the folder itself, or the nearest above it that is there."""
    return next((candidate for candidate in (folder, *folder.parents) if is_folder(candidate)), None)


def _mount_of(folder: Path, mounted: set[Path]) -> Path:
    """Return where the disk or share that *folder* lies on is mounted, of all that is *mounted*."""
    real = Path(os.path.realpath(folder))
    return next((candidate for candidate in (real, *real.parents) if _is_mounted(candidate, mounted)), real)


def _mounted() -> set[Path]:
    """Return where something is mounted, by the system's table; the folders themselves are not asked."""
    return {mount.folder for mount in mounts()}


def _is_mounted(folder: Path, mounted: set[Path]) -> bool:
    # A folder of the same file system that is mounted elsewhere too looks like any other; the table knows. On Windows
    # the table lists drives alone.
    return folder in mounted or os.path.ismount(folder)


def _is_bare(folder: Path) -> bool:
    """Return whether a folder holds nothing, or only what is hidden, as a mount point does."""
    try:
        with os.scandir(folder) as entries:
            return all(entry.name.startswith(".") for entry in entries)
    except OSError:
        return True
