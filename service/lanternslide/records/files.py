"""Files as they were seen in a drop folder."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

from lanternslide.records.windows import file_number

__all__ = ["DroppedFile", "Fingerprint", "shown_path", "shown_text"]

HALVES = re.compile("[\ud800-\udc7f\udd00-\udfff]")
"""Halves of characters that stand for no byte of a path, either (PEP 383); Windows has names with them."""


def shown_path(path: Path) -> str:
    r"""Return a path as text that is safe to print: what is no text or cannot be seen is escaped.

    Bytes that are no text are written ``\\xNN``; line ends, control characters and marks that turn the direction of
    writing become escapes.
    """
    return shown_text(str(path))


def shown_text(text: str) -> str:
    """Return what a file or its name says, safe to print, as `shown_path` does."""
    text = HALVES.sub(lambda half: f"\\u{ord(half[0]):04x}", text)
    whole = text.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in whole)


@dataclass(frozen=True, kw_only=True, slots=True)
class Fingerprint:
    """What tells one state of a file from another without reading it."""

    size: int  #: Bytes.
    mtime_ns: int  #: Time of the last modification, nanoseconds.
    inode: int  #: The file's number in its file system; 0 on Windows.

    @classmethod
    def of(cls, status: os.stat_result) -> Fingerprint:
        """Return the fingerprint that a stat call shows."""
        return cls(size=status.st_size, mtime_ns=status.st_mtime_ns, inode=file_number(status))


@dataclass(frozen=True, kw_only=True, slots=True)
class DroppedFile:
    """A file that lies in a drop folder, or was dropped there and is filed away."""

    photographer: str  #: Whose drop folder it is.
    drop: Path  #: The drop folder.
    relative: Path  #: The path below the drop folder.
    fingerprint: Fingerprint  #: How it looked.
    is_folder: bool = False  #: A folder that is named like a picture.
    filed: Path | None = None  #: Where it lies now, if it is filed away.

    @property
    def path(self) -> Path:
        """The whole path, where it lies now."""
        return self.filed or self.drop / self.relative

    @property
    def root(self) -> Path:
        """The folder above it up to which links are followed, and none below."""
        return self.filed.parent if self.filed else self.drop

    @property
    def shown(self) -> str:
        """The path below the drop folder with the photographer's name before it, safe to print."""
        return f"{self.photographer}: {shown_path(self.relative)}"
