"""Looking through a drop folder: the scan is the truth, events are only hints."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple

from lanternslide.records import DroppedFile, Fingerprint
from lanternslide.records.windows import file_number, is_link

__all__ = [
    "Entry",
    "Kind",
    "Round",
    "count_others",
    "dropped",
    "is_left_alone",
    "kind_of",
    "look_at",
    "look_through",
    "scan",
]

PICTURES = frozenset({".jpg", ".jpeg", ".jpe", ".tif", ".tiff", ".png", ".webp"})

PASSING_NAMES = (
    ".part",
    ".partial",
    ".tmp",
    ".temp",
    ".crdownload",
    ".download",
    ".filepart",
    ".swp",
    ".lock",
)
"""Endings of files that a program is still writing."""

LITTER = frozenset({"thumbs.db", "desktop.ini", "ehthumbs.db", "icon\r", "lost+found", "$recycle.bin", "@eadir"})
"""What systems and shares leave lying about, in lower case."""

SYNC_MARKS = (".sync-conflict-", ".~lock.", "_conflict-")
"""Parts of names that sync programs give to copies of their own."""

LEFT_ALONE = re.compile(
    r"\A[.~]|(?:~|{})\Z|{}".format("|".join(map(re.escape, PASSING_NAMES)), "|".join(map(re.escape, SYNC_MARKS)))
)


@dataclass(kw_only=True, slots=True)
class Round:
    """What one look through a drop folder came across, beside pictures."""

    seen: int = 0  #: All that was come across so far, pictures and others.
    folders: int = 0  #: Folders that were looked through, the drop folder among them.
    others: int = 0  #: Files of other kinds: sidecars, raw and layered files.
    closed: dict[Path, OSError] = field(default_factory=dict)  #: Folders that cannot be listed, and why.
    most: int | None = None  #: So much is come across; then it ends.
    is_given_up: bool = False  #: Whether nobody waits for the rest.

    @property
    def is_over(self) -> bool:
        """Whether it has come to an early end."""
        return self.is_given_up or (self.most is not None and self.seen >= self.most)

    def counted(self, entries: Iterable[os.DirEntry[str]]) -> Iterator[os.DirEntry[str]]:
        """Yield *entries*, and count each as seen: to list a large folder on a slow share takes long."""
        for entry in entries:
            if self.is_over:
                return
            self.seen += 1
            yield entry


class Kind(StrEnum):
    """What a name in a drop folder stands for."""

    PICTURE = "picture"  #: An original.
    OTHER = "other"  #: Counted and left alone: sidecars, raw and layered files.
    LITTER = "litter"  #: Left alone: hidden, temporary, system and sync files.


def kind_of(name: str) -> Kind:
    """Return what a file's *name* stands for."""
    lower = name.casefold()
    if lower in LITTER or LEFT_ALONE.search(lower):
        return Kind.LITTER
    return Kind.PICTURE if os.path.splitext(lower)[1] in PICTURES else Kind.OTHER  # noqa: PTH122 - a plain name


def is_left_alone(folder: Path) -> bool:
    """Return whether nothing in a folder below the drop folder is looked at, since it or one above is named so."""
    return any(kind_of(part) is not Kind.OTHER for part in folder.parts)


class Entry(NamedTuple):
    """What lies in a drop folder and may be an original; there may be very many."""

    relative: str  #: The path below the drop folder.
    size: int  #: Bytes.
    mtime_ns: int
    inode: int
    is_folder: bool  #: A folder that is named like a picture.

    @property
    def fingerprint(self) -> Fingerprint:
        """How it looked."""
        return Fingerprint(size=self.size, mtime_ns=self.mtime_ns, inode=self.inode)


def look_through(drop: Path, below: str = "", came_across: Round | None = None) -> Iterator[Entry]:
    """Yield every picture in the folder *below* of the drop folder, and folders that are named like one.

    Links are not followed. A folder that goes away while it is looked through is passed over; one that cannot be listed
    for another reason is noted in *came_across*.

    Raises
    ------
    OSError
        If the drop folder itself cannot be listed.
    """
    came_across = came_across or Round()
    for entry in _listed(drop, below, came_across):
        if came_across.is_over:
            return
        came_across.seen += 1
        kind = kind_of(entry.name)
        if kind is Kind.LITTER:
            continue
        relative = f"{below}{os.sep}{entry.name}" if below else entry.name
        try:
            is_folder = entry.is_dir(follow_symlinks=False)
            if kind is Kind.OTHER and not is_folder:
                came_across.others += 1
                continue
            status = entry.stat(follow_symlinks=False)
        except OSError:
            continue
        if is_link(status):  # a junction counts as a folder on Windows, and may lead round in circles
            continue
        if kind is Kind.OTHER:
            yield from look_through(drop, relative, came_across)
        elif is_folder or stat.S_ISREG(status.st_mode):
            yield Entry(relative, status.st_size, status.st_mtime_ns, file_number(status), is_folder)


def _listed(drop: Path, below: str, came_across: Round) -> list[os.DirEntry[str]]:
    """Return what a folder holds, in the order of its names."""
    try:
        with os.scandir(os.path.join(drop, below)) as found:  # noqa: PTH118 - a hundred thousand paths
            came_across.folders += 1
            return sorted(came_across.counted(found), key=lambda entry: entry.name)
    except OSError as error:
        if not below:
            raise
        if not isinstance(error, FileNotFoundError):
            came_across.closed[Path(below)] = error
        return []


def count_others(drop: Path) -> int:
    """Return how many files of other kinds lie in a drop folder, which asks the system for names alone.

    What cannot be listed below it is passed over.

    Raises
    ------
    OSError
        If the drop folder itself cannot be listed.
    """
    number, ahead = 0, [os.fspath(drop)]
    while ahead:
        folder = ahead.pop()
        try:
            with os.scandir(folder) as found:
                for entry in found:
                    if kind_of(entry.name) is not Kind.OTHER:
                        continue
                    if entry.is_dir(follow_symlinks=False):
                        if not is_link(entry.stat(follow_symlinks=False)):
                            ahead.append(entry.path)
                    else:
                        number += 1
        except OSError:
            if folder == os.fspath(drop):
                raise
    return number


def scan(photographer: str, drop: Path, below: Path = Path()) -> Iterator[DroppedFile]:
    """Yield what `look_through` finds, as files that were dropped."""
    folder = "" if below == Path() else str(below)
    for entry in look_through(drop, folder):
        yield dropped(photographer, drop, entry)


def dropped(photographer: str, drop: Path, entry: Entry) -> DroppedFile:
    """Return an entry of a drop folder as a file that was dropped."""
    return DroppedFile(
        photographer=photographer,
        drop=drop,
        relative=Path(entry.relative),
        fingerprint=entry.fingerprint,
        is_folder=entry.is_folder,
    )


def look_at(photographer: str, drop: Path, relative: Path) -> Iterator[DroppedFile]:
    """Yield what a hint about the path *relative* leads to: the picture itself, or all pictures in that folder."""
    ahead = Path()
    for part in relative.parts:
        ahead /= part
        kind = kind_of(part)
        try:
            status = (drop / ahead).lstat()
        except OSError:
            return
        if is_link(status):
            return
        is_folder = stat.S_ISDIR(status.st_mode)
        if kind is Kind.PICTURE and (is_folder or stat.S_ISREG(status.st_mode)):
            entry = Entry(os.fspath(ahead), status.st_size, status.st_mtime_ns, file_number(status), is_folder)
            yield dropped(photographer, drop, entry)
        if kind is not Kind.OTHER or not is_folder:
            return
    yield from scan(photographer, drop, relative)
