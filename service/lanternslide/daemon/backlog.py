"""Older work, taken from the ledger a few at a time: it may be all that was ever delivered."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from lanternslide.config import ResolvedPhotographer
from lanternslide.intake import ScanContext, look_at
from lanternslide.ledger import OlderWork, OriginalRow
from lanternslide.records import DroppedFile, Scope
from lanternslide.records.events import Behind, Found, Listener
from lanternslide.storage import is_folder

__all__ = ["Backlog"]

FEW = 16
"""With fewer of a photographer's ready than that, more are taken: enough for many workers until the next round."""

AT_ONCE = 32


class Backlog:
    """Hands on what the ledger says is to be made again; it has settled long ago.

    What has changed on disk since, or is not there, is left to the drop scanner: it is fresh, or gone.
    """

    def __init__(
        self,
        photographers: Mapping[str, ResolvedPhotographer],
        older: OlderWork,
        scope: Scope,
        ask: ScanContext,
        tell: Listener,
    ) -> None:
        self._drops = {name: owner.drop for name, owner in photographers.items()}
        self._older = older
        self._scope = scope
        self._ask = ask
        self._tell = tell
        self._after: dict[str, int] = {}  # photographers who may have more: the last that was taken
        self._left: dict[str, int] = {}  # how many of each of them were not taken yet
        self._told: int | None = None
        self.is_cut_short = False  #: A drop folder is silent or away: only a scan tells when to begin again.
        self.has_passed_over = False  #: All that was looked at is in hand, or not there: at once to the next ones.

    def __len__(self) -> int:
        """How many were not handed on yet."""
        return sum(self._left.values())

    def __bool__(self) -> bool:
        """Return whether there may be more to hand on."""
        return bool(self._after)

    def begin(self) -> None:
        """Begin from the first again; what is in hand already is passed over."""
        numbers = {
            name: self._older.number(name, since_ns=self._scope.since_ns, only=self._scope.only) for name in self._drops
        }
        self.is_cut_short = False
        self._left = {name: number for name, number in numbers.items() if number and self._is_there(name)}
        self._after = dict.fromkeys(self._left, -1)
        self._count()

    def next(self, ready: Counter[str]) -> Iterator[DroppedFile]:
        """Yield the next ones of each photographer of whom there are only few *ready*."""
        self.has_passed_over = False
        for name in [name for name in self._after if ready[name] < FEW]:
            rows = []
            if self._is_there(name):
                rows = self._older.waiting(
                    name, self._after[name], AT_ONCE, since_ns=self._scope.since_ns, only=self._scope.only
                )
            else:
                self.is_cut_short = True
            if rows:
                self._after[name] = rows[-1].id
                self._left[name] = max(self._left[name] - len(rows), 0)
            else:
                del self._after[name], self._left[name]
            is_passed_over = bool(rows)
            for row in rows:
                file = self._file_of(row)
                if file is not None and not self._ask.in_hand(file):
                    is_passed_over = False
                    self._tell(Found(file=file))
                    yield file
            self.has_passed_over |= is_passed_over
            self._count()

    def _is_there(self, photographer: str) -> bool:
        """Return whether a drop folder is there: of what lies in one that is away, nothing can be told."""
        drop = self._drops[photographer]
        return self._ask.answers(drop) and is_folder(drop)

    def _file_of(self, row: OriginalRow) -> DroppedFile | None:
        """Return the file of an original, if it is there as it was."""
        for file in look_at(row.photographer, self._drops[row.photographer], row.path):
            return file if file.relative == row.path and file.fingerprint == row.fingerprint else None
        return self._ask.files.filed(row) if row.filed_to is not None else None

    def _count(self) -> None:
        if self._told != len(self):
            self._told = len(self)
            self._tell(Behind(number=self._told))
