"""Older work: originals that were delivered as they are and that their owner wants made again."""

from __future__ import annotations

import json
from collections.abc import Iterable

from lanternslide.ledger.rows import OriginalRow
from lanternslide.ledger.store import Store

__all__ = ["OlderWork"]

LONG_AGO = -(2**63)
"""Before every time that a file can have, ns: SQLite's least whole number."""


class OlderWork(Store):
    """What is to be made again; read in parts, since it may be all that was ever delivered."""

    def with_deliveries(self, after: int, most: int) -> list[OriginalRow]:
        """Return the pictures that something stands published of: the next *most* ones *after* this number."""
        return [OriginalRow.from_row(row) for row in self._all("originals_with_deliveries", after=after, most=most)]

    def ask_again(self, touched: Iterable[tuple[int, Iterable[int]]]) -> None:
        """Let deliveries of originals be made again, all or none: each original's number, and its deliveries'."""
        with self._together():
            for original, deliveries in touched:
                for number in deliveries:
                    self._one("redo", id=number)
                self._one("ask_again", id=original)

    def waiting(
        self, photographer: str, after: int, most: int, *, since_ns: int | None = None, only: str | None = None
    ) -> list[OriginalRow]:
        """Return a photographer's originals that wait to be made again: the next *most* ones *after* this number.

        Limited to those changed at *since_ns* or later (ns since 1970), and to what destination *only* still needs.
        """
        rows = self._all(
            "older_waiting",
            photographer=photographer, after=after, most=most, only=only,
            since_ns=LONG_AGO if since_ns is None else since_ns,
        )  # fmt: skip
        return [OriginalRow.from_row(row) for row in rows]

    def number(self, photographer: str, *, since_ns: int | None = None, only: str | None = None) -> int:
        """Return how many originals of a photographer wait to be made again."""
        since_ns = LONG_AGO if since_ns is None else since_ns
        number: int = self._one("number_older", photographer=photographer, since_ns=since_ns, only=only)["number"]
        return number

    def left(self, photographers: Iterable[str]) -> tuple[int, float | None]:
        """Return how many originals are still to be made again, and how long that took the last time, in seconds.

        It is the time of one worker. Where it is not known of some, they are taken to be like the others; None where it
        is known of none.
        """
        found = self._one("older_left", photographers=json.dumps(list(photographers)))
        pictures, known = found["pictures"], found["known"]
        return pictures, found["seconds"] / known * pictures if known else None
