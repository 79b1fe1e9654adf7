"""What an original's header leaves in doubt."""

from __future__ import annotations

from lanternslide.imaging.source import Header
from lanternslide.imaging.working_space import WorkingSpace
from lanternslide.words import Doubt, Said, say

__all__ = ["doubts_of"]


def doubts_of(header: Header, space: WorkingSpace) -> tuple[Said, ...]:
    """Return what its owner should know of an original, and of the space that was chosen for it."""
    doubts = [space.doubt] if space.doubt else []
    if header.extra:
        doubts.append(say(Doubt.EXTRA_CHANNELS))
    if header.pages > 1:
        doubts.append(say(Doubt.OTHER_PAGES, pages=header.pages))
    return tuple(doubts)
