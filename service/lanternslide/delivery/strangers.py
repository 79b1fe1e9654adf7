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

__all__ = ["ANY_DATE", "ANY_YEAR", "Strangers"]

MOST_NAMES = 100
"""So many numbered names are looked at."""

ANY_DATE, ANY_YEAR = "8765-43-21", "8765"
"""Stand for any day and year in a name; no picture has them."""

DATES = re.compile(rf"{re.escape(re.escape(ANY_DATE))}|{ANY_YEAR}")


class Strangers:
    """Looks for files that may be deliveries of an earlier ledger."""

    def __init__(self, deliveries: Deliveries) -> None:
        self._deliveries = deliveries

    def named(self, folder: Path, call: Call) -> Iterator[Path]:
        """Yield what nobody is known to have put under the names of a delivery, until one of them is free."""
        for candidate in islice(delivered_names(*call), MOST_NAMES):
            path = folder / candidate
            if not is_there(path):
                return
            if self._is_unknown(path):
                yield path

    def may_be(self, row: DeliveryRow | None, folder: Path, call: Call) -> list[Path]:
        """Return what may be a delivery, also under its own name where the ledger knows another file.

        The name may have `ANY_DATE` and `ANY_YEAR` in it.
        """
        found = [path for path in _with_any_date(folder, call) if self._is_unknown(path)]
        found += [path for path in self.named(folder, call) if path not in found]
        own = None if row is None else row.output
        if own is not None and is_there(own.path) and not is_file_with(own.path, own.size, own.digest):
            found.append(own.path)
        return found

    def _is_unknown(self, path: Path) -> bool:
        return self._deliveries.owner_of(path) is None and self._deliveries.earlier_at(path) is None


def _with_any_date(folder: Path, call: Call) -> Iterator[Path]:
    name, density, ending = call
    if ANY_YEAR not in name:
        return
    dated = re.compile(DATES.sub(lambda found: "[0-9]{4}" + "-[0-9]{2}-[0-9]{2}" * ("-" in found[0]), re.escape(name)))
    try:
        names = sorted(path.name for path in folder.iterdir())
    except OSError:
        return
    for candidate in names:
        match = dated.match(candidate)
        if match is not None and is_name_of(candidate, match[0], density, ending):
            yield folder / candidate
