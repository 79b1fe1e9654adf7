"""What the pages of a proof sheet say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from lanternslide.records import About, Record, Shown
from lanternslide.words import counted

__all__ = ["DayContent", "DayLine", "Entry", "HeldItem", "IndexContent", "next_step"]


@dataclass(frozen=True, kw_only=True, slots=True)
class HeldItem:
    """A picture that waits for its owner."""

    name: str
    reason: str  #: What is the matter, and what to do.
    since: str | None  #: For a person; None if it is not known.


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """A delivery on a sheet."""

    record: Record
    shown: Shown | None
    about: About
    time: str  #: Of the delivery, for a person.

    @property
    def is_withdrawn(self) -> bool:
        """Whether it was taken back since."""
        return self.record.state == "withdrawn"


@dataclass(frozen=True, kw_only=True, slots=True)
class DayContent:
    """A photographer's day."""

    photographer: str
    day: date
    entries: Sequence[Entry]  #: Oldest first.
    held: Sequence[HeldItem]  #: What is held since that day, and still is.
    waiting: int = 0  #: Pictures that are still to be done, if it is today.


@dataclass(frozen=True, kw_only=True, slots=True)
class DayLine:
    """A day in the index."""

    day: date
    deliveries: int
    withdrawn: int
    held: int


@dataclass(frozen=True, kw_only=True, slots=True)
class IndexContent:
    """All of a photographer's days."""

    photographer: str
    days: Sequence[DayLine]  #: Newest first.
    held: Sequence[HeldItem]  #: All that is held now.
    waiting: int  #: Pictures that are still to be done.
    obstacles: Sequence[str]  #: What is in the way at the moment.


def next_step(held: Sequence[HeldItem], obstacles: Sequence[str], doubtful: int, waiting: int) -> str:
    """Return the one thing to do next."""
    if held:
        return f"{held[0].name}: {held[0].reason}"
    if obstacles:
        return obstacles[0]
    if doubtful:
        return f"Look at {counted(doubtful, 'delivery', 'deliveries')} with doubts, below."
    if waiting:
        return f"Nothing. {counted(waiting, 'picture is', 'pictures are')} waiting to be made."
    return "Nothing."
