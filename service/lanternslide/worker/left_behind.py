"""What is said of metadata that did not travel: which, and why, without the words of the libraries that gave up."""

from __future__ import annotations

import re
from collections.abc import Iterable

from lanternslide.metadata.keys import CALLED
from lanternslide.words import without_inside

__all__ = ["listed_plainly"]

OF_A_KIND = re.compile(rf"({'|'.join(map(re.escape, CALLED.values()))}): (.*)", re.DOTALL)
IN_BRACKETS = re.compile(r" \(((?:[^()]|\([^()]*\))*)\)")

LIBRARYS = re.compile(r"[A-Z][a-z]+ .*|.*\bcodec can't .*|.*\bline \d+, column \d+|.*\berrno\b.*", re.DOTALL)
"""How the sentences of the metadata library, of Python's codecs and of its XML reader look."""

DAMAGED = "it is damaged"


def listed_plainly(texts: Iterable[str]) -> str:
    """Return what was left behind in one line, for a photographer."""
    return "; ".join(dict.fromkeys(map(_plainly, texts)))


def _plainly(text: str) -> str:
    found = OF_A_KIND.fullmatch(without_inside(text))
    if found is None:  # the library did not open the file; it is asked for Exif alone
        return f"{CALLED['exif']}: {DAMAGED}"
    kind, said = found.groups()
    said = IN_BRACKETS.sub(lambda bracket: "" if LIBRARYS.fullmatch(bracket[1]) else bracket[0], said)
    return f"{kind}: {DAMAGED if LIBRARYS.fullmatch(said) else said}"
