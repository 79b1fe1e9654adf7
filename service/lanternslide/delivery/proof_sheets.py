"""Keeping each photographer's proof sheets true: a folder of pages and small pictures for each day, and an index."""

from __future__ import annotations

import time
import traceback
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from pathlib import Path

from lanternslide.config import ResolvedPhotographer, Settings
from lanternslide.delivery.proof_sheet import Now, Sheet, local_day
from lanternslide.errors import PassingFaultError, StateError
from lanternslide.ledger import Ledger, OriginalState
from lanternslide.records.events import Listener, SheetFailed
from lanternslide.report.obstacles import Obstacles
from lanternslide.storage.faults import folder_fault
from lanternslide.storage.probe import Probe
from lanternslide.words import Passing, named

__all__ = ["ProofSheets", "sheets_by"]

PAUSE_SECONDS = 5.0
"""Sheets are written at most so often."""

SHARE, MOST_PAUSE_SECONDS = 50, 60.0
"""Nor for more than a fiftieth of the time, as long as that is no pause of more than a minute."""

MOST_SECONDS, LAST_SECONDS = 0.3, 5.0
"""Days that are past wait for the next time after so many seconds; at the end there is more time."""


class ProofSheets:
    """Writes the sheets of photographers who want them; each one's shows nothing of another's.

    Days are those of this machine's clock.
    """

    def __init__(
        self, sheets: Iterable[Sheet], ledger: Ledger, obstacles: Obstacles, probe: Probe, tell: Listener
    ) -> None:
        self._ledger = ledger
        self._tell = tell
        self._obstacles = obstacles
        self._sheets = {sheet.photographer: sheet for sheet in sheets}
        self._probe = probe
        self._next_write = 0.0
        self.is_due = True  #: Whether something may have changed.

    def folder_for(self, photographer: str) -> Path | None:
        """Return the folder that today's small pictures of *photographer* go to, if there is one that takes them."""
        sheet = self._sheets.get(photographer)
        if sheet is None:
            return None
        folder = sheet.folder / local_day(datetime.now(UTC)).isoformat()
        if not self._probe.answers(sheet.folder):
            return None
        try:
            sheet.folder.mkdir(exist_ok=True)
            folder.mkdir(exist_ok=True)
        except OSError as error:
            self._obstacles.meet(f"{photographer}: proof sheets", folder_fault(sheet.folder, error).said)
            return None
        return folder

    def write_if_due(self, now: float) -> None:
        """Bring the sheets up to date, if something may have changed and it was not done a moment ago."""
        if self.is_due and now >= self._next_write:
            started = time.monotonic()
            self.write(MOST_SECONDS)
            spent = time.monotonic() - started
            self._next_write = now + max(PAUSE_SECONDS, min(SHARE * spent, MOST_PAUSE_SECONDS))

    def write(self, seconds: float = LAST_SECONDS) -> None:
        """Bring the sheets up to date, and prune those that are old.

        The newest day comes first; once so many *seconds* are over, what is left waits for the next time.
        """
        self.is_due = False
        if not self._sheets:
            return
        held = self._ledger.reading.held()
        counts = self._ledger.reading.counts()
        today = local_day(datetime.now(UTC))
        for name, sheet in self._sheets.items():
            what = f"{name}: proof sheets"
            mine = [row for row in held if row.photographer == name]
            waiting = sum(counts.get((name, state), 0) for state in (OriginalState.WAITING, OriginalState.WORKING))
            try:
                self._check(sheet.folder)
                obstacles = self._obstacles.of(name, sheet.destinations)
                if not sheet.write(self._ledger, today, Now(held=mine, waiting=waiting, obstacles=obstacles), seconds):
                    self.is_due = True
            except PassingFaultError as fault:
                self._obstacles.meet(what, fault.said)
                self.is_due = True
            except OSError as error:
                self._obstacles.meet(what, folder_fault(sheet.folder, error).said)
                self.is_due = True
            except StateError:
                raise
            except Exception as error:  # noqa: BLE001 - evidence must not stop deliveries; it is logged with its trace
                self._tell(SheetFailed(photographer=name, detail=named(error), trace=traceback.format_exc()))
            else:
                self._obstacles.pass_by(what)

    def _check(self, folder: Path) -> None:
        if not self._probe.answers(folder):
            raise PassingFaultError(Passing.FOLDER_TROUBLE, folder=folder, detail="no answer")


def sheets_by(settings: Settings, photographers: Mapping[str, ResolvedPhotographer]) -> list[Sheet]:
    """Return the sheet of each of these *photographers* who wants one."""
    return [
        Sheet(
            owner.name,
            owner.proofs,
            settings.service.proofs_keep_days,
            # Where each photographer has a folder, what is in the way of one is nothing to another.
            tuple(place.name for place in owner.destinations.values() if place.is_shared),
        )
        for owner in photographers.values()
        if owner.proofs is not None
    ]
