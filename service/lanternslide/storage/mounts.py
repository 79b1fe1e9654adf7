"""On what kind of file system a folder lies: events of what happens on other machines never come from shares."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from pathlib import Path, PureWindowsPath
from typing import NamedTuple

import psutil

__all__ = ["Mount", "is_mapped_drive", "is_remote", "mount_of", "mounts"]

REMOTE = frozenset({
    "9p", "afpfs", "afs", "beegfs", "ceph", "cephfs", "cifs", "coda", "davfs", "drvfs", "glusterfs", "gpfs", "lustre",
    "macfuse", "ncpfs", "nfs", "nfs4", "osxfuse", "prl_fs", "smb2", "smb3", "smbfs", "vboxsf", "virtiofs", "vmhgfs",
    "webdav",
})  # fmt: skip
"""File systems whose files change on other machines or in programs that send no events (inotify(7), "Limitations").

From memory; a name that is missing costs speed alone, since every drop folder is looked through from time to time."""

ELSEWHERE = "remote"
"""How Windows calls a drive that is a share (psutil, `disk_partitions`), whatever file system the share has."""

LOCAL_FUSE = frozenset({"fuseblk"})
"""A file system in a program, but on a disk of this machine (NTFS and exFAT on Linux)."""


class Mount(NamedTuple):
    """A mounted file system."""

    folder: Path
    kind: str


def mounts() -> list[Mount]:
    """Return all that is mounted, in the order in which it was."""
    found = psutil.disk_partitions(all=True)
    return [Mount(Path(part.mountpoint), _kind(part.fstype, part.opts)) for part in found]


def _kind(file_system: str, options: str) -> str:
    """Return what counts of a mount: Windows says among the *options* that a drive is a share."""
    return ELSEWHERE if sys.platform == "win32" and ELSEWHERE in options.split(",") else file_system


def is_network_path(path: str) -> bool:
    r"""Return whether Windows finds *path* on another machine: ``\\server\share\...``, also written the long way."""
    drive = PureWindowsPath(path).drive.upper()
    return drive.startswith("\\\\") and (drive[2:4] not in {"?\\", ".\\"} or drive[4:8] == "UNC\\")


def mount_of(path: Path, among: Iterable[Mount]) -> Mount | None:
    """Return the mount that *path* (absolute, links resolved) lies on: the deepest, and of those the last."""
    best: Mount | None = None
    for mount in among:
        if path.is_relative_to(mount.folder) and (best is None or len(mount.folder.parts) >= len(best.folder.parts)):
            best = mount
    return best


def is_mapped_drive(path: Path, among: Callable[[], Iterable[Mount]] = mounts) -> bool:
    """Return whether *path* begins with a drive's letter that stands for a share: whoever logs on has others."""
    found = mount_of(path, among())
    return sys.platform == "win32" and found is not None and found.kind == ELSEWHERE


def is_remote(path: Path, among: Callable[[], Iterable[Mount]] = mounts) -> bool:
    """Return whether *path* lies on a share or in a program's file system, by the mount table; nothing there is asked.

    On Windows, network paths count, and drives that stand for one.
    """
    real = os.path.realpath(path)
    if sys.platform == "win32" and (is_network_path(os.fspath(path)) or is_network_path(real)):
        return True
    found = mount_of(Path(real), among())
    if found is None:
        return False
    kind = found.kind.lower()
    return kind in REMOTE or (kind.startswith("fuse") and kind not in LOCAL_FUSE) or kind == ELSEWHERE
