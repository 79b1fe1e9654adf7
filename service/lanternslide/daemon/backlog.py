"""Older work, taken from the ledger a few at a time: it may be all that was ever delivered."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from lanternslide.config import Settings
from lanternslide.daemon.desk import Desk
from lanternslide.daemon.lookout import Questions
from lanternslide.daemon.scope import Scope
from lanternslide.intake import look_at
from lanternslide.ledger import Ledger, OriginalRow
from lanternslide.records import DroppedFile
from lanternslide.records.events import Behind, Found, Listener

__all__ = ["Backlog"]

FEW = 16
"""With fewer of a photographer's ready than that, more are taken: enough for many workers until the next round."""

AT_ONCE = 32


class Backlog:
    """Hands on what the ledger says is to be made again; it has settled long ago.

    What has changed on disk since, or is not there, is left to the lookout: it is fresh, or gone.
    """

    def __init__(
        self,
        settings: Settings,
        ledger: Ledger,
        desk: Desk,
        scope: Scope,
        ask: Questions,
        tell: Listener,
    ) -> None:
        self._drops = {name: owner.drop for name, owner in settings.photographers.items()}
        self._ledger = ledger
        self._desk = desk
        self._scope = scope
        self._ask = ask
        self._tell = tell
        self._after: dict[str, int] = {}  # photographers who may have more: the last that was taken
        self._behind = 0
        self.is_cut_short = False  #: A drop folder is silent: only a scan tells when to begin again.

    def __len__(self) -> int:
        """How many were not handed on yet."""
        return self._behind

    def __bool__(self) -> bool:
        """Return whether there may be more to hand on."""
        return bool(self._after)

    def begin(self) -> None:
        """Begin from the first again; what is in hand already is passed over."""
        numbers = {
            name: self._ledger.number_older(name, since_ns=self._scope.since_ns, only=self._scope.only)
            for name in self._drops
        }
        self.is_cut_short = False
        self._after = {name: -1 for name, number in numbers.items() if number and self._ask.answers(self._drops[name])}
        self._count(sum(numbers[name] for name in self._after))

    def next(self, ready: Counter[str]) -> Iterator[DroppedFile]:
        """Yield the next ones of each photographer of whom there are only few *ready*."""
        for name in [name for name in self._after if ready[name] < FEW]:
            rows = []
            is_silent = not self._ask.answers(self._drops[name])
            self.is_cut_short |= is_silent
            if not is_silent:
                rows = self._ledger.older_waiting(
                    name, self._after[name], AT_ONCE, since_ns=self._scope.since_ns, only=self._scope.only
                )
            if not rows:
                del self._after[name]
            else:
                self._after[name] = rows[-1].id
            for row in rows:
                file = self._file_of(row)
                if file is not None and not self._ask.in_hand(file):
                    self._tell(Found(file=file))
                    yield file
            self._count(self._behind - len(rows) if self._after else 0)

    def _file_of(self, row: OriginalRow) -> DroppedFile | None:
        """Return the file of an original, if it is there as it was."""
        for file in look_at(row.photographer, self._drops[row.photographer], row.path):
            return file if file.relative == row.path and file.fingerprint == row.fingerprint else None
        return self._desk.filed(row) if row.filed_to is not None else None

    def _count(self, number: int) -> None:
        if number != self._behind:
            self._behind = max(number, 0)
            self._tell(Behind(number=self._behind))
