"""What is held, as a text for the photographer whose pictures they are."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

__all__ = ["held_text", "is_held_text"]

HELD_TITLE = "These files are held: they were not published."
FORMER_TITLE = "Held pictures: nothing was published of these."
"""How the text begins, and how it began before: that tells it from somebody else's file."""

WIDTH, INDENT = 78, "    "


def is_held_text(text: str) -> bool:
    """Return whether *text* is one of ours."""
    return text.startswith((HELD_TITLE, FORMER_TITLE))


def held_text(held: Sequence[tuple[str, str]]) -> str | None:
    """Return what is *held* (names, safe to print, and reasons) in the order of the names; None if nothing is."""
    if not held:
        return None
    parts = [f"{HELD_TITLE}\nUnder each you see why, and what to do.\n"]
    for name, reason in sorted(held):
        parts.append(f"{name}\n{textwrap.fill(reason, WIDTH, initial_indent=INDENT, subsequent_indent=INDENT)}\n")
    return "\n".join(parts)
