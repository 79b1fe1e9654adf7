"""Lines that fit a terminal: folded between words, what is indented stays so."""

from __future__ import annotations

import shutil
import textwrap
from typing import TextIO

__all__ = ["columns_of", "folded"]


def columns_of(stream: TextIO | None) -> int | None:
    """Return how wide a terminal is; None where *stream* is none, so that nothing is folded for programs."""
    return shutil.get_terminal_size().columns if stream is not None and stream.isatty() else None


def folded(text: str, width: int | None, hanging: int) -> str:
    """Return *text* with its lines folded to *width* columns; None folds nothing.

    What goes on from an indented line is indented like it, from another by *hanging* columns. Long words, such as
    paths, stay whole.
    """
    if width is None:
        return text
    lines = []
    for line in text.splitlines():
        begin = len(line) - len(line.lstrip(" "))
        lines += textwrap.wrap(
            line, max(width, begin + hanging + 1), subsequent_indent=" " * (begin or hanging),
            break_long_words=False, break_on_hyphens=False,
        ) or [""]  # fmt: skip
    return "\n".join(lines)
