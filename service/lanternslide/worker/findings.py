"""What an original's header and metadata say that its owner should know."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lanternslide.imaging.colour.working_space import WorkingSpace
from lanternslide.imaging.reading.source import Header
from lanternslide.metadata import Carried, Extra
from lanternslide.words import Doubt, Note, Said, say
from lanternslide.worker.left_behind import listed_plainly

__all__ = ["findings_about_metadata", "findings_of"]

MOST_QUOTED = 3
"""Texts of an original that are quoted at once."""

EXTRAS = {
    Extra.CREDENTIALS: "Content Credentials (they hold for the original alone)",
    Extra.REMOTE_CREDENTIALS: "the address of its Content Credentials (they hold for the original alone)",
    Extra.GAIN_MAP: "a gain map for brighter displays",
    Extra.VIDEO: "a video",
    Extra.SOUND: "a sound",
    Extra.VIEWS: "further views of the subject",
    Extra.FRAMES: "further frames (the first one was delivered)",
    Extra.KEYWORD_TREE: "the hierarchy of its keywords",
}
"""What a file holds beside its picture, for a person."""


def findings_of(header: Header, space: WorkingSpace) -> tuple[Said, ...]:
    """Return the doubts and notes about an original, and about the space that was chosen for it."""
    findings = [space.finding] if space.finding else []
    if header.extra:
        findings.append(say(Note.EXTRA_CHANNELS))
    if header.pages > 1:
        findings.append(say(Note.OTHER_PAGES, pages=header.pages))
    return tuple(findings)


def findings_about_metadata(carried: Carried) -> Iterator[Said]:
    """Yield the doubts and notes about the metadata that a delivery got."""
    yield from _about_rights(carried)
    if carried.left_behind:
        yield say(Doubt.METADATA_LEFT_BEHIND, detail=listed_plainly(carried.left_behind))
    if carried.too_large:
        yield say(Note.METADATA_TOO_LARGE, detail=listed_plainly(carried.too_large))
    if carried.lost_regions:
        yield say(Note.REGIONS_LEFT_OUT)
    if carried.extras:
        yield say(Note.EXTRAS_LEFT_OUT, what=", ".join(EXTRAS[extra] for extra in carried.extras))
    matters: dict[str, list[str]] = {}
    for found in carried.contradictions:
        matters.setdefault(found.place, []).append(found.what)
    yield from (say(Note.CONTRADICTION, what=_together(those), place=place) for place, those in matters.items())


def _about_rights(carried: Carried) -> Iterator[Said]:
    if carried.anothers:
        yield say(Doubt.ANOTHERS_PICTURE, found=_listed(carried.anothers))
    if carried.unread:
        yield say(Doubt.RIGHTS_UNKNOWN, what=", ".join(carried.unread))
    if carried.replaced:
        yield say(Note.RIGHTS_REPLACED, found=_listed(carried.replaced))
    if carried.lacks_rights:
        yield say(Note.RIGHTS_LEFT_BEHIND)
    if carried.year is not None:
        yield say(Note.YEAR_OF_FILE, year=carried.year)


def _together(words: Sequence[str]) -> str:
    """Return words as a list in a sentence."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


def _listed(texts: Sequence[str]) -> str:
    """Return the first of some texts in one line, and how many more there are."""
    more = len(texts) - MOST_QUOTED
    return "; ".join(texts[:MOST_QUOTED]) + (f"; and {more} more" if more > 0 else "")
