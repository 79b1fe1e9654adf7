"""What errands are worked on with, and what is known of one that is under way."""

from __future__ import annotations

from dataclasses import dataclass

from lanternslide.config import Settings
from lanternslide.daemon.desk import Desk
from lanternslide.daemon.errand import Errand
from lanternslide.daemon.filing import Filing
from lanternslide.daemon.limits import Limits
from lanternslide.daemon.lookout import Lookout
from lanternslide.daemon.publisher import Publisher
from lanternslide.records import Job
from lanternslide.words import Said

__all__ = ["Running", "Tools"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Tools:
    """What the work is done with; made anew when the config is read again."""

    settings: Settings
    limits: Limits
    desk: Desk
    publisher: Publisher
    filing: Filing
    lookout: Lookout


@dataclass(frozen=True, kw_only=True, slots=True)
class Running:
    """An errand that a worker has, or that waits for room."""

    errand: Errand
    reading: int  #: Which reading of the config it was begun under.
    job: Job | None = None  #: Once its deliveries are being made, or wait for room in memory.
    stalled: Said | None = None  #: Why some of its deliveries were not even begun.
