"""When a file has stopped changing. Pure: the time is passed in."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from lanternslide.intake.settling import ZERO_TAIL_FACTOR, Sighting, look_again, settles_at
from lanternslide.records import DroppedFile, Fingerprint

SECONDS = 2.0


def file_of(size: int) -> DroppedFile:
    """Return a file that was seen with a size."""
    fingerprint = Fingerprint(size=size, mtime_ns=0, inode=1)
    return DroppedFile(photographer="ida", drop=Path("drop"), relative=Path("x.jpg"), fingerprint=fingerprint)


@given(sizes=st.lists(st.integers(1, 3), min_size=1), step=st.floats(0.1, 5))
def test_the_wait_begins_anew_with_every_change(sizes: list[int], step: float) -> None:
    """A file settles so many seconds after the last look that showed a change, however often it changed before."""
    sighting: Sighting | None = None
    changed_at = 0.0
    for number, size in enumerate(sizes):
        if number and size != sizes[number - 1]:
            changed_at = number * step
        sighting = look_again(sighting, file_of(size), number * step)

    assert sighting is not None
    assert settles_at(sighting, SECONDS, zero_tail=False) == changed_at + SECONDS
    assert settles_at(sighting, SECONDS, zero_tail=True) == changed_at + SECONDS * ZERO_TAIL_FACTOR
