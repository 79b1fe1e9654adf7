"""What events of a drop folder come to: a path to look at, or that everything has to be looked at."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

__all__ = ["Hint", "Lost", "Tell"]


@dataclass(frozen=True, slots=True)
class Hint:
    """Something happened at a path below a photographer's drop folder."""

    photographer: str
    path: Path


@dataclass(frozen=True, slots=True)
class Lost:
    """The system has lost events: only looking everywhere tells what happened."""


Tell: TypeAlias = Callable[[Hint | Lost], None]
"""Takes hints, from another thread."""
