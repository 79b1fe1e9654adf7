"""The ledger: what was seen, what is to be made, what stands published. The only place that speaks SQL."""

from lanternslide.ledger.database import place_of
from lanternslide.ledger.ledger import Ledger
from lanternslide.ledger.lock import StateLock, holder_of
from lanternslide.ledger.rows import (
    DeliveryRow,
    Known,
    OriginalRow,
    OriginalState,
    Published,
    Replaced,
    Standing,
    Wanted,
    stored,
    stored_fingerprint,
)

__all__ = [
    "DeliveryRow",
    "Known",
    "Ledger",
    "OriginalRow",
    "OriginalState",
    "Published",
    "Replaced",
    "Standing",
    "StateLock",
    "Wanted",
    "holder_of",
    "place_of",
    "stored",
    "stored_fingerprint",
]
