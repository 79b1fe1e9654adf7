"""Files under the names of a delivery that no delivery is known to stand in; reads, and writes nothing."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from lanternslide.delivery.naming import delivered_names, is_name_of
from lanternslide.delivery.target_names import Call
from lanternslide.ledger import Deliveries, DeliveryRow
from lanternslide.storage import is_file_with, is_there
from lanternslide.storage.faults import folder_fault

__all__ = ["ANY_DATE", "Strangers"]

FIRST_NAMES = 3
"""So many names are looked at where a delivery is published: a stat for each."""

ANY_DATE = "8765-43-21"
"""Stands for any day in a name, and its year for any year; no picture has them."""

ANY_YEAR = ANY_DATE[:4]
DATES = re.compile(f"{re.escape(re.escape(ANY_DATE))}|{ANY_YEAR}")


class Strangers:
    """Looks for files that may be deliveries of an earlier ledger."""

    def __init__(self, deliveries: Deliveries) -> None:
        self._deliveries = deliveries
        self._listed: tuple[Path, tuple[str, ...]] = (Path(), ())  # a folder, and what lies there

    def first(self, folder: Path, call: Call) -> Iterator[Path]:
        """Yield what nobody is known to have put under the first names of a delivery."""
        for candidate in islice(delivered_names(*call), FIRST_NAMES):
            path = folder / candidate
            if is_there(path) and self.is_unknown(path):
                yield path

    def may_be(self, row: DeliveryRow | None, folder: Path, call: Call, *, is_dated: bool = False) -> list[Path]:
        """Return what may be a delivery, also under its own name where the ledger knows another file.

        With *is_dated* the name has `ANY_DATE`, or its year, where the date of a picture stands. A folder is listed
        once, as long as the same one is asked about.

        Raises
        ------
        PassingFaultError
            If it cannot be told what stands there.
        """
        own = None if row is None else row.output
        try:
            found = [path for path in self._named(folder, call, is_dated=is_dated) if self.is_unknown(path)]
            if own is not None and is_there(own.path) and not is_file_with(own.path, own.size, own.digest):
                found.append(own.path)
        except OSError as error:
            raise folder_fault(folder, error) from error
        return found

    def is_unknown(self, path: Path) -> bool:
        """Return whether the ledger knows nothing of a path."""
        return self._deliveries.owner_of(path) is None and self._deliveries.earlier_at(path) is None

    def _named(self, folder: Path, call: Call, *, is_dated: bool) -> Iterator[Path]:
        """Yield what has a name of a delivery, by its number."""
        if self._listed[0] != folder:
            names = tuple(path.name for path in folder.iterdir()) if folder.is_dir() else ()
            self._listed = folder, names
        called, density, ending = call
        dated = re.compile(_with_any_date(called) if is_dated else re.escape(called))
        for name in sorted(self._listed[1], key=lambda name: (len(name), name)):
            match = dated.match(name)
            if match is not None and is_name_of(name, match[0], density, ending):
                yield folder / name


def _with_any_date(called: str) -> str:
    return DATES.sub(lambda found: "[0-9]{4}" + "-[0-9]{2}-[0-9]{2}" * ("-" in found[0]), re.escape(called))
