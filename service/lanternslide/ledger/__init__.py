"""The ledger: what was seen, what is to be made, what stands published. The only place that speaks SQL."""

from lanternslide.ledger.database import place_of
from lanternslide.ledger.deliveries import Deliveries
from lanternslide.ledger.folders import Folders
from lanternslide.ledger.ledger import LEDGER_FILE, Ledger
from lanternslide.ledger.older import OlderWork
from lanternslide.ledger.originals import Originals
from lanternslide.ledger.reading import Reading
from lanternslide.ledger.rows import (
    Day,
    DeliveryRow,
    DeliveryState,
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
from lanternslide.ledger.sheets import Sheets
from lanternslide.ledger.state_folder.lock import StateLock, ask_holder, holder_of
from lanternslide.ledger.state_folder.presence import Presence
from lanternslide.ledger.state_folder.reserve import is_full, keep_reserve, release_reserve
from lanternslide.ledger.state_folder.session import UNSURE_NOTE
from lanternslide.ledger.state_folder.stopping import ask_to_stop, take_stop_request
from lanternslide.ledger.withdrawals import Withdrawals

__all__ = [
    "LEDGER_FILE",
    "UNSURE_NOTE",
    "Day",
    "Deliveries",
    "DeliveryRow",
    "DeliveryState",
    "Folders",
    "Kept",
    "Known",
    "Ledger",
    "OlderWork",
    "OriginalRow",
    "OriginalState",
    "Originals",
    "Presence",
    "Published",
    "Reading",
    "Replaced",
    "Sheets",
    "ShownRow",
    "Standing",
    "StateLock",
    "Wanted",
    "Withdrawals",
    "ask_holder",
    "ask_to_stop",
    "holder_of",
    "is_full",
    "keep_reserve",
    "place_of",
    "release_reserve",
    "stored",
    "stored_fingerprint",
    "take_stop_request",
]
