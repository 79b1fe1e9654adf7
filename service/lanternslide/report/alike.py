"""Saying once what is said of many: texts that differ in their figures only are of one kind."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TypeVar

__all__ = ["by_kind"]

FIGURES = re.compile(r"(“[^”]*”)|[0-9][0-9.,]*")
"""Numbers, but for those in names, which stand in quotation marks."""
T = TypeVar("T")


def by_kind(said: Iterable[tuple[T, str]]) -> list[tuple[str, list[T]]]:
    """Return each kind of text in *said* (of what, which text) with all of what it is said of, in order.

    Where texts of a kind differ in their figures, the first one is shown as an example.
    """
    kinds: dict[str, tuple[dict[str, None], dict[T, None]]] = {}
    for what, text in said:
        texts, those = kinds.setdefault(FIGURES.sub(lambda found: found[1] or "0", text), ({}, {}))
        texts[text] = None
        those[what] = None
    return [
        (next(iter(texts)) if len(texts) == 1 else f"For example: {next(iter(texts))}", list(those))
        for texts, those in kinds.values()
    ]
