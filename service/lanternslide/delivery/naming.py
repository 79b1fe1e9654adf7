"""Names of deliveries and of temporary files. Pure."""

from __future__ import annotations

import os
from collections.abc import Iterator
from itertools import count

__all__ = ["delivered_name", "is_temporary_of", "numbered", "temporary_name"]

MARK = ".lanternslide-"
MAX_STEM_BYTES = 200
"""Leaves room for density, number and ending within the 255 bytes that file systems take."""


def delivered_name(stem: str, density: float) -> str:
    """Return the name of a delivery: ``grey-seal.jpg``, or ``grey-seal@2x.jpg`` for screens of twice the density."""
    encoded = os.fsencode(stem)
    if len(encoded) > MAX_STEM_BYTES:
        stem = encoded[:MAX_STEM_BYTES].decode("utf-8", "ignore")
    return f"{stem}.jpg" if density == 1 else f"{stem}@{density:g}x.jpg"


def numbered(name: str) -> Iterator[str]:
    """Yield *name*, then ``grey-seal-2.jpg``, ``grey-seal-3.jpg`` and so on; a density stays at the end."""
    stem, _, ending = name.rpartition(".")
    stem, at, density = stem.partition("@")
    yield name
    for number in count(2):
        yield f"{stem}-{number}{at}{density}.{ending}"


def temporary_name(run: str, delivery: int) -> str:
    """Return the dot name under which a delivery is written before it is published."""
    return f"{MARK}{run}-{delivery}.part"


def is_temporary_of(ledger: str, name: str) -> bool:
    """Return whether *name* is a temporary name that the ledger called *ledger* gave."""
    return name.startswith(f"{MARK}{ledger}-") and name.endswith(".part")
