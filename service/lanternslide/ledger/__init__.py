"""The ledger: what was seen, what is to be made, what stands published. The only place that speaks SQL."""

from lanternslide.ledger.database import place_of
from lanternslide.ledger.ledger import LEDGER_FILE, Ledger
from lanternslide.ledger.lock import StateLock, ask_holder, holder_of
from lanternslide.ledger.rows import (
    Day,
    DeliveryRow,
    Kept,
    Known,
    OriginalRow,
    OriginalState,
    Published,
    Replaced,
    ShownRow,
    Standing,
    Wanted,
    stored,
    stored_fingerprint,
)
from lanternslide.ledger.stopping import ask_to_stop, stop_asked

__all__ = [
    "LEDGER_FILE",
    "Day",
    "DeliveryRow",
    "Kept",
    "Known",
    "Ledger",
    "OriginalRow",
    "OriginalState",
    "Published",
    "Replaced",
    "ShownRow",
    "Standing",
    "StateLock",
    "Wanted",
    "ask_holder",
    "ask_to_stop",
    "holder_of",
    "place_of",
    "stop_asked",
    "stored",
    "stored_fingerprint",
]
