"""What comes back from a worker."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

from lanternslide.records.record import Figures
from lanternslide.words import Said

__all__ = ["About", "Changed", "JobDone", "LeftOut", "Made", "Outcome", "Refused", "Shown", "Stalled", "Unrecognised"]


@dataclass(frozen=True, kw_only=True, slots=True)
class About:
    """What a delivery's metadata say in words."""

    title: str | None = None  #: A line.
    description: str | None = None  #: A text.
    alt: str | None = None  #: What the picture shows, for who cannot see it.
    captured: str | None = None  #: The day (ISO 8601).
    creator: str | None = None  #: Who made it.
    copyright: str | None = None  #: The notice.
    usage_terms: str | None = None  #: What may be done with it.
    web_statement: str | None = None  #: The address where its rights are explained.


@dataclass(frozen=True, kw_only=True, slots=True)
class Shown:
    """What a proof sheet shows of a delivery."""

    pictures: str  #: What the names of its small pictures begin with, below the proof folder.
    thumbnail: tuple[int, int]  #: Width and height, pixels.
    closeup: tuple[int, int, int, int]  #: Left, top, width and height of what is shown at 1:1, pixels.
    tones: tuple[int, ...]  #: How many of 10,000 pixels lie in each part of lightness, from black to white.
    tried: tuple[tuple[int, int], ...]  #: Qualities that were tried, with their bytes.
    has_map: bool  #: Whether there is a map of what was out of gamut.

    @classmethod
    def of(cls, stored: dict[str, Any]) -> Self:
        """Return it from what JSON makes of its fields."""
        left, top, width, height = stored["closeup"]
        return cls(
            pictures=stored["pictures"],
            thumbnail=(stored["thumbnail"][0], stored["thumbnail"][1]),
            closeup=(left, top, width, height),
            tones=tuple(stored["tones"]),
            tried=tuple((quality, size) for quality, size in stored["tried"]),
            has_map=stored["has_map"],
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Made:
    """An encoded file that waits under its temporary name to be published."""

    delivery: int  #: The delivery's number in the ledger.
    bytes: int  #: Of the whole file.
    digest: str  #: SHA-256, hexadecimal.
    figures: Figures  #: Sizes and quality, for the record.
    findings: tuple[Said, ...]  #: Doubts and notes.
    captured: str | None = None  #: The day on which the picture was taken (ISO 8601), as far as the original says.
    about: About = About()  #: For pages and manifests.
    shown: Shown | None = None  #: None where there is no proof sheet, or its folder did not take the pictures.
    standing: Path | None = None  #: The file in which it was recognised; nothing was written then.

    @property
    def doubts(self) -> tuple[Said, ...]:
        """What asks its owner to look."""
        return tuple(said for said in self.findings if not said.is_note)

    @property
    def notes(self) -> tuple[Said, ...]:
        """What is good to know."""
        return tuple(said for said in self.findings if said.is_note)


@dataclass(frozen=True, kw_only=True, slots=True)
class LeftOut:
    """A delivery that is not made, with a note on its sibling."""

    delivery: int  #: Its number in the ledger.


@dataclass(frozen=True, kw_only=True, slots=True)
class Stalled:
    """Something was in the way that may pass; nothing was lost, and it is tried again."""

    said: Said  #: What is in the way.
    delivery: int | None = None  #: The one delivery that it stalled; none: the whole job.


@dataclass(frozen=True, kw_only=True, slots=True)
class Refused:
    """The original cannot be done; it is held."""

    said: Said  #: Why, and what to do.


@dataclass(frozen=True, kw_only=True, slots=True)
class Changed:
    """The original is gone, or no longer what had settled: nothing came of it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Unrecognised:
    """A delivery that none of the files is in which it was looked for."""

    delivery: int  #: Its number in the ledger.


Outcome = Made | LeftOut | Unrecognised | Stalled
"""What became of one delivery."""


@dataclass(frozen=True, kw_only=True, slots=True)
class JobDone:
    """A worker has done all that it could of a job."""

    outcomes: tuple[Outcome, ...]  #: Of each delivery.
