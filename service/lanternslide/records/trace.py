"""What a worker says of an original beforehand: what would be done, from its header alone."""

from __future__ import annotations

from dataclasses import dataclass

from lanternslide.records.job import SurveyTask
from lanternslide.words import Said

__all__ = ["TraceTask", "Traced", "TracedPlan"]


@dataclass(frozen=True, kw_only=True, slots=True)
class TraceTask:
    """Say what would be done with an original."""

    survey: SurveyTask  #: What a survey of it would be given.
    destinations: tuple[str, ...]  #: Of each of what is wanted.


@dataclass(frozen=True, kw_only=True, slots=True)
class TracedPlan:
    """What would be done for one delivery."""

    destination: str  #: Its name.
    density: float  #: Pixels for one of the layout, 1 to 4.
    rungs: tuple[tuple[int, int], ...]  #: (Width, height) of each size on the way, upright; the last is the final one.
    enlarged: bool  #: Whether the final size is larger than the original.
    strength: float  #: How much sharpening in all; 0 where there is none.
    acutance: float  #: How steep edges are to be against those of the plain area average.
    chroma: str  #: ``4:4:4``, ``4:2:2`` or ``4:2:0``.
    progressive: bool  #: Whether the JPEG shows coarsely first.
    findings: tuple[Said, ...]  #: Doubts and notes about this delivery.

    @property
    def width(self) -> int:
        """Final size in pixels, upright."""
        return self.rungs[-1][0]

    @property
    def height(self) -> int:
        """Final size in pixels, upright."""
        return self.rungs[-1][1]


@dataclass(frozen=True, kw_only=True, slots=True)
class Traced:
    """What an original is, and what would be done with it."""

    width: int  #: Pixels, upright.
    height: int  #: Pixels, upright.
    bits: int  #: Of one sample: 8 or 16.
    kind: str  #: ``JPEG``, ``TIFF``, ``PNG`` or ``WebP``.
    profile: str | None  #: The embedded colour profile's name, or the space that is declared or assumed.
    need_mib: float  #: What a worker takes at its peak, MiB, that makes all of it.
    plans: tuple[TracedPlan, ...]  #: One for each delivery that would be made.
    left_out: tuple[tuple[str, float], ...]  #: Destination and density of what the original is too small for.
    findings: tuple[Said, ...]  #: About the original.
