"""What would become of an original, as records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

from lanternslide.intake.decisions import LIMIT_REASONS, ROUTING_REASONS
from lanternslide.ledger import DeliveryState, OriginalRow, OriginalState, stored_fingerprint
from lanternslide.records import DroppedFile, Fingerprint, Recipe, Routing, Traced, TracedPlan
from lanternslide.words import Said

__all__ = ["Asked", "Foreseen", "Intended", "Prediction", "prediction_of"]


class Prediction(StrEnum):
    """What would become of an original."""

    NEW = "new"  #: It would be made for the first time.
    CHANGED = "changed"  #: It would be made again: its file is another one than before.
    WAITS = "waits"  #: It is known, and would be made.
    DONE = "done"  #: Nothing would be made.
    WITHDRAWN = "withdrawn"  #: Nothing would be made: its owner has taken it back.
    OUTDATED = "outdated"  #: It gives way: a newer file is the same picture.
    HELD = "held"  #: It would wait for its owner.
    STALLED = "stalled"  #: It would wait for something that may pass.
    MOVING = "moving"  #: It changed while it was looked at.


MADE = frozenset({Prediction.NEW, Prediction.CHANGED, Prediction.WAITS})


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """What lies where an owner asks about."""

    photographer: str
    path: Path  #: The whole path, below the drop folder as the config names it.
    is_folder: bool
    files: tuple[DroppedFile, ...]  #: The original, or all in the folder.
    others: int = 0  #: Files of other kinds in the folder.
    closed: Mapping[Path, OSError] = field(default_factory=dict)  #: Folders that cannot be listed, and why.


@dataclass(frozen=True, kw_only=True, slots=True)
class Foreseen:
    """What would be done with one original."""

    file: DroppedFile
    prediction: Prediction
    routing: Routing | None = None  #: None: it is not clearly said where it should go.
    said: Said | None = None  #: Why it would be held or wait.
    failure: str | None = None  #: Why it could not be looked at, through no fault that is known.
    newer: Path | None = None  #: The file that is the same picture and counts.
    row: OriginalRow | None = None  #: What the ledger knows of the picture.
    traced: Traced | None = None  #: Once its header was read.

    @property
    def is_made(self) -> bool:
        """Whether something of it would be made."""
        return self.prediction in MADE


@dataclass(frozen=True, kw_only=True, slots=True)
class Intended:
    """One delivery as it would be, or as it is."""

    plan: TracedPlan
    recipe: Recipe
    path: Path | None  #: Where it would be put, or stands; None: that cannot be told now, or it was taken back.
    taken: str | None = None  #: The name that it would have if no other file had it.
    day_of_file: str | None = None  #: What stands in its name where the picture does not say when it was taken.
    state: DeliveryState | None = None  #: What the ledger says of it.
    is_other_recipe: bool = False  #: Whether the config asks for something else than what was made.
    stalled: Said | None = None  #: What is in the way and may pass.


def prediction_of(fingerprint: Fingerprint, row: OriginalRow | None) -> tuple[Prediction, Said | None]:
    """Return what becomes of an original that looks so, given what the ledger knows under its path; and why it is held.

    What is held for a reason that the config can take away is not taken as held: whether the reason is still there is
    found out by looking.
    """
    if row is None:
        return Prediction.NEW, None
    if row.known.fingerprint != stored_fingerprint(fingerprint):
        return Prediction.CHANGED, None
    match row.state:
        case OriginalState.DELIVERED:
            return Prediction.DONE, None
        case OriginalState.WITHDRAWN:
            return Prediction.WITHDRAWN, None
        case OriginalState.HELD if row.reason_key not in ROUTING_REASONS | LIMIT_REASONS:
            return Prediction.HELD, Said(key=row.reason_key or "", text=row.reason or "")
        case _:
            return Prediction.WAITS, None
