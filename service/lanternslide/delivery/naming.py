"""Names of deliveries. Pure."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from itertools import count

__all__ = [
    "MAX_NAME_BYTES",
    "MAX_STEM_BYTES",
    "cut",
    "delivered_names",
    "is_former_name",
    "is_name_of",
]

MAX_NAME_BYTES = 255
"""What file systems take."""
MAX_STEM_BYTES = 200
"""Leaves room for density, number and ending within the 255 bytes that file systems take."""


def delivered_names(stem: str, density: float, ending: str = ".jpg") -> Iterator[str]:
    """Yield the name of a delivery, then those to take where it is taken.

    ``grey-seal.jpg``, ``grey-seal-2.jpg``, ...; for screens of twice the density ``grey-seal-2x.jpg``,
    ``grey-seal-2-2x.jpg``, ...
    """
    stem = cut(stem, MAX_STEM_BYTES)
    ending = _ending(density, ending)
    yield f"{stem}{ending}"
    for number in count(2):
        yield f"{stem}-{number}{ending}"


def is_name_of(name: str, stem: str, density: float, ending: str) -> bool:
    """Return whether *name* is one of those that `delivered_names` yields."""
    pattern = re.escape(cut(stem, MAX_STEM_BYTES)) + r"(?:-[0-9]+)?" + re.escape(_ending(density, ending))
    return re.fullmatch(pattern, name, re.DOTALL) is not None


def _ending(density: float, ending: str) -> str:
    return ending if density == 1 else f"-{density:g}x{ending}"


def is_former_name(name: str, density: float) -> bool:
    """Return whether a delivery has its density in its *name* as earlier versions wrote it: ``grey-seal@2x.jpg``."""
    return density != 1 and os.path.splitext(name)[0].endswith(f"@{density:g}x")  # noqa: PTH122 - a name, not a path


def cut(name: str, most: int) -> str:
    """Return *name* with at most so many bytes; no letter is cut in two."""
    encoded = os.fsencode(name)
    if len(encoded) <= most:
        return name
    try:
        name.encode("utf-8")
    except UnicodeEncodeError:  # bytes that are no text
        # On Windows one of them is three bytes, which belong together.
        while len(os.fsencode(name)) > max(most, 1) and len(name) > 1:
            name = name[:-1]
        return name
    return encoded[: max(most, 1)].decode("utf-8", "ignore")
