"""Where an original is meant to go."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

__all__ = ["Routing"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Routing:
    """What the name and the folder of an original say."""

    picture: Path  #: The relative path without tags: paths that differ only in tags are one picture.
    stem: str  #: The name without tags and ending.
    folder: Path  #: The folders below the drop folder that the delivered path keeps.
    destinations: tuple[str, ...]  #: Names of destinations, in the order of the config.
    why: str  #: What decided: ``tag``, ``folder`` or ``otherwise``.
    named_by: tuple[str, ...] = ()  #: The tag or the folder that named each destination, as written; none: `otherwise`.
    kept_tags: tuple[str, ...] = ()  #: Unknown tags that were taken as part of the name.
