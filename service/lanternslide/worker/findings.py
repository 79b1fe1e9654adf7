"""What an original's header says that its owner should know."""

from __future__ import annotations

from lanternslide.imaging.source import Header
from lanternslide.imaging.working_space import WorkingSpace
from lanternslide.words import Note, Said, say

__all__ = ["findings_of"]


def findings_of(header: Header, space: WorkingSpace) -> tuple[Said, ...]:
    """Return the doubts and notes about an original, and about the space that was chosen for it."""
    findings = [space.finding] if space.finding else []
    if header.extra:
        findings.append(say(Note.EXTRA_CHANNELS))
    if header.pages > 1:
        findings.append(say(Note.OTHER_PAGES, pages=header.pages))
    return tuple(findings)
