"""Lines that fit a terminal: folded between words, what is indented stays so."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from typing import TextIO

from rich.cells import cell_len

__all__ = ["columns_of", "folded"]


def columns_of(stream: TextIO | None) -> int | None:
    """Return how wide a terminal is; None where *stream* is none, so that nothing is folded for programs."""
    if stream is None or not stream.isatty():
        return None
    try:
        asked = os.get_terminal_size(stream.fileno()).columns
    except (OSError, ValueError):  # a terminal that has no size, or stands in for one
        asked = 0
    return asked or shutil.get_terminal_size().columns


def folded(text: str, width: int | None, hanging: int) -> str:
    """Return *text* with its lines folded to *width* columns; None folds nothing.

    What goes on from an indented line is indented like it, from another by *hanging* columns. Long words, such as
    paths, stay whole; wide letters count as two columns (Unicode Standard Annex 11).
    """
    if width is None:
        return text
    return "\n".join(part for line in text.splitlines() for part in _parts(line, width, hanging))


def _parts(line: str, width: int, hanging: int) -> Iterator[str]:
    """Yield a line in parts that fit."""
    begin = len(line) - len(line.lstrip(" "))
    part, *words = line[begin:].split(" ")
    part = " " * begin + part
    for word in words:
        if cell_len(part) + 1 + cell_len(word) > width and part.strip():
            yield part.rstrip()
            part = " " * (begin or hanging) + word
        else:
            part = f"{part} {word}"
    yield part
