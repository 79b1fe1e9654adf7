"""What a service notes for those that come after it, and for commands that find no config any more."""

from __future__ import annotations

import os

from lanternslide.config import Settings
from lanternslide.config.limits import Limits
from lanternslide.ledger import Ledger
from lanternslide.requests import DROP_NOTE
from lanternslide.words import Held

__all__ = ["note_settings"]


def note_settings(ledger: Ledger, settings: Settings, limits: Limits) -> None:
    """Let what was held for a limit be tried again once it has changed; note where originals are dropped."""
    for reason, limit in (
        (Held.TOO_MANY_PIXELS, limits.max_megapixels),
        (Held.NEEDS_MORE_MEMORY, limits.memory_for(settings.service)),
    ):
        if ledger.notes.get(reason.value) != str(limit):
            ledger.originals.retry_held_for(reason.value)
            ledger.notes.put(reason.value, str(limit))
    for name, owner in settings.photographers.items():
        ledger.notes.put(f"{DROP_NOTE}{name}", os.fsencode(owner.drop).hex())
