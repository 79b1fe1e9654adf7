"""What is held, as a text for the photographer whose pictures they are."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

__all__ = ["HELD_TITLE", "held_text"]

HELD_TITLE = "Held pictures: nothing was published of these."
"""How the text begins, which tells it from a file of somebody else's."""

WIDTH, INDENT = 78, "    "


def held_text(held: Sequence[tuple[str, str]]) -> str | None:
    """Return what is *held* (names, safe to print, and reasons) in the order of the names; None if nothing is."""
    if not held:
        return None
    parts = [f"{HELD_TITLE} What to do stands below each.\n"]
    for name, reason in sorted(held):
        parts.append(f"{name}\n{textwrap.fill(reason, WIDTH, initial_indent=INDENT, subsequent_indent=INDENT)}\n")
    return "\n".join(parts)
