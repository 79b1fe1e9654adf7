"""When a file has stopped changing, so that it can be read whole. Pure: the time is passed in.

Times are seconds of a monotonic clock, so that a clock that is set back or forth changes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from lanternslide.records import DroppedFile

__all__ = ["ZERO_TAIL_FACTOR", "Sighting", "look_again", "settles_at"]

ZERO_TAIL_FACTOR = 10
"""A file whose tail is all zeros is probably still being copied: it waits so many times as long."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Sighting:
    """How a file has looked, and since when."""

    file: DroppedFile
    since: float  #: When it was first seen with this fingerprint.
    looks: int = 1  #: How often it was seen with it.


def look_again(before: Sighting | None, file: DroppedFile, now: float) -> Sighting:
    """Return the sighting after one more look: the wait begins anew whenever the file has changed."""
    if before is None or before.file.fingerprint != file.fingerprint:
        return Sighting(file=file, since=now)
    return replace(before, looks=before.looks + 1)


def settles_at(sighting: Sighting, settle_seconds: float, *, zero_tail: bool) -> float:
    """Return when the file counts as settled, if it does not change before and was looked at twice."""
    return sighting.since + settle_seconds * (ZERO_TAIL_FACTOR if zero_tail else 1)
