"""What an original's file can hold beside its picture, and the file that is searched for it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from io import FileIO

__all__ = ["Extra", "PlacedFile"]


class Extra(StrEnum):
    """What a file holds beside its picture, in the order in which it is told."""

    CREDENTIALS = "credentials"  #: Content Credentials in the file, which hold for its own bytes alone.
    REMOTE_CREDENTIALS = "remote-credentials"  #: Only an address where Content Credentials lie.
    GAIN_MAP = "gain-map"  #: What brightens the picture on displays of a high dynamic range.
    VIDEO = "video"
    SOUND = "sound"
    VIEWS = "views"  #: Further pictures that are no small versions of this one.
    FRAMES = "frames"  #: Further frames of an animation.
    KEYWORD_TREE = "keyword-tree"  #: Keywords in a hierarchy.


@dataclass(frozen=True, slots=True)
class PlacedFile:
    """A file that is read in places, and never whole."""

    stream: FileIO
    size: int

    def at(self, place: int, length: int) -> bytes:
        """Return the bytes at a *place*, as many of *length* as there are."""
        if not 0 <= place < self.size or length <= 0:
            return b""
        self.stream.seek(place)
        return self.stream.read(min(length, self.size - place))
