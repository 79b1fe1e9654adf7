"""The nearest right name."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

__all__ = ["nearest", "or_near"]


def nearest(name: str, known: Iterable[str], *, cutoff: float = 0.6) -> str | None:
    """Return the one of *known* that is most like *name* without regard to case, or None."""
    by_fold = {candidate.casefold(): candidate for candidate in known}
    found = get_close_matches(name.casefold(), by_fold, n=1, cutoff=cutoff)
    return by_fold[found[0]] if found else None


def or_near(name: str, known: Iterable[str]) -> str:
    """Return a remark that names the nearest of *known*, or nothing."""
    near = nearest(name, known)
    return f" (did you mean “{near}”?)" if near else ""
