"""Names of deliveries and of temporary files. Pure."""

from __future__ import annotations

import os
from collections.abc import Iterator
from itertools import count

__all__ = ["delivered_names", "is_temporary_of", "temporary_name"]

MARK = ".lanternslide-"
MAX_STEM_BYTES = 200
"""Leaves room for density, number and ending within the 255 bytes that file systems take."""


def delivered_names(stem: str, density: float) -> Iterator[str]:
    """Yield the name of a delivery, then those to take where it is taken.

    ``grey-seal.jpg``, ``grey-seal-2.jpg``, ...; for screens of twice the density ``grey-seal@2x.jpg``,
    ``grey-seal-2@2x.jpg``, ...
    """
    encoded = os.fsencode(stem)
    if len(encoded) > MAX_STEM_BYTES:
        stem = encoded[:MAX_STEM_BYTES].decode("utf-8", "ignore")
    ending = ".jpg" if density == 1 else f"@{density:g}x.jpg"
    yield f"{stem}{ending}"
    for number in count(2):
        yield f"{stem}-{number}{ending}"


def temporary_name(run: str, delivery: int) -> str:
    """Return the dot name under which a delivery is written before it is published."""
    return f"{MARK}{run}-{delivery}.part"


def is_temporary_of(ledger: str, name: str) -> bool:
    """Return whether *name* is a temporary name that the ledger called *ledger* gave."""
    return name.startswith(f"{MARK}{ledger}-") and name.endswith(".part")
