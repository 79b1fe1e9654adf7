"""How many pictures are made at a time."""

from __future__ import annotations

from lanternslide.config import Settings
from lanternslide.config.limits import Limits
from lanternslide.ledger import Ledger

__all__ = ["SLOTS_NOTE", "slots_known"]

SLOTS_NOTE = "places"
"""Under this name the ledger notes how many workers of a cluster may have work."""


def slots_known(settings: Settings, ledger: Ledger) -> int:
    """Return how many pictures are made at a time, as far as the ledger knows: a cluster's workers as noted last."""
    noted = None if settings.service.executor == "local" else ledger.notes.get(SLOTS_NOTE)
    return max(int(noted or 0), 1) if noted else Limits.of(settings.service).workers
