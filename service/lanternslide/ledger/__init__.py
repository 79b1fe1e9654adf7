"""The ledger: what was seen, what is to be made, what stands published. The only place that speaks SQL."""

from lanternslide.ledger.ledger import Ledger
from lanternslide.ledger.lock import StateLock
from lanternslide.ledger.rows import DeliveryRow, OriginalRow, OriginalState, Published, Wanted

__all__ = ["DeliveryRow", "Ledger", "OriginalRow", "OriginalState", "Published", "StateLock", "Wanted"]
