"""What a picture in hand is at, and what follows: every stage, and every ending, on one page.

A picture is in hand from when it has settled until it is delivered, held or gone, or the service has to look at its
file again. `FOLLOWS` is the whole of it; `transitions` decides which of them it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

from lanternslide.records import Job, SurveyedItem, WorkItem
from lanternslide.words import Said

__all__ = [
    "FOLLOWS", "Ending", "Finish", "Hold", "LetGo", "LookAgain", "Making", "Ready", "Resting", "Stage",
    "Surveying", "TryAgain", "WaitingForMemory",
]  # fmt: skip


# Stages: what the picture is at


@dataclass(frozen=True, kw_only=True, slots=True)
class Ready:
    """It waits for its turn."""

    item: WorkItem


@dataclass(frozen=True, kw_only=True, slots=True)
class Surveying:
    """A worker finds out what it is."""

    item: WorkItem
    reading: int  #: Which reading of the config it was begun under.


@dataclass(frozen=True, kw_only=True, slots=True)
class WaitingForMemory:
    """Its job begins once there is room for it."""

    item: SurveyedItem
    reading: int
    job: Job
    stalled: Said | None = None  #: Why some of its deliveries are not even begun.


@dataclass(frozen=True, kw_only=True, slots=True)
class Making:
    """A worker makes its deliveries."""

    item: SurveyedItem
    reading: int
    job: Job
    stalled: Said | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Resting:
    """Something is in the way that may pass; it is tried again after a pause."""

    item: WorkItem
    due: float  #: When, monotonic seconds.
    said: Said
    need_mib: float | None = None  #: What no worker has enough of, if that is in the way.


Stage: TypeAlias = Ready | Surveying | WaitingForMemory | Making | Resting


# Endings: it is in hand no more


@dataclass(frozen=True, kw_only=True, slots=True)
class Finish:
    """Nothing is left to make now: it is delivered, or withdrawn.

    It waits if its owner has asked for more meanwhile, or a limited sweep leaves the rest.
    """

    changed: bool  #: Whether anything was made.


@dataclass(frozen=True, kw_only=True, slots=True)
class Hold:
    """It cannot be done, and waits for its owner."""

    said: Said


@dataclass(frozen=True, kw_only=True, slots=True)
class LookAgain:
    """Its file, or the config, has changed: what lies there now begins anew."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TryAgain:
    """The attempt has failed, or what was in the way may have passed: the same file begins anew."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LetGo:
    """The service stops, a scan is about to find it, or a newer export takes its place: nothing more is done here."""


Ending: TypeAlias = Finish | Hold | LookAgain | TryAgain | LetGo

FOLLOWS: Mapping[type[Stage], frozenset[type[Stage | Ending]]] = {
    Ready: frozenset({Surveying, LetGo}),
    Surveying: frozenset({WaitingForMemory, Resting, Finish, Hold, LookAgain, TryAgain, LetGo}),
    WaitingForMemory: frozenset({Making, LookAgain}),
    Making: frozenset({Resting, Finish, Hold, LookAgain, TryAgain, LetGo}),
    Resting: frozenset({TryAgain, LetGo}),
}
"""What may follow each stage."""
