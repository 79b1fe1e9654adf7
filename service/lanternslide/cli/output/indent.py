"""Indented text on a terminal."""

from __future__ import annotations

from rich.console import RenderableType
from rich.padding import Padding

__all__ = ["indented"]


def indented(content: RenderableType, columns: int) -> Padding:
    """Return *content* moved to the right, with nothing after the end of its lines."""
    return Padding(content, (0, 0, 0, columns), expand=False)
