"""Where an original goes: tags in its name first, else its first folder, else `otherwise`. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from difflib import SequenceMatcher
from pathlib import Path

from lanternslide.config import RoutingNames
from lanternslide.errors import OriginalHeldError
from lanternslide.records import Routing
from lanternslide.words import Held

__all__ = ["route"]

FORMER_DENSITY = re.compile(r"[1-4](?:\.[0-9]+)?x(?:-[0-9]+| ?\([0-9]+\))?", re.IGNORECASE)
"""How earlier versions ended the names of deliveries for screens of high density; copies of those have a number too."""


def route(relative: Path, names: RoutingNames) -> Routing:
    """Return where the original at *relative* (below the drop folder) goes.

    Raises
    ------
    OriginalHeldError
        If that is not clearly said: nothing is published to a place that its owner did not name.
    """
    stem, tags, kept = _split(relative.stem, names)
    folders = relative.parts[:-1]
    matched = names.subfolders.get(folders[0].casefold()) if folders else None
    picture = relative.with_name(stem + relative.suffix)
    below = Path(*(folders[1:] if matched else folders))
    if tags:
        first_tags = {names.tags[tag.casefold()]: tag for tag in reversed(tags)}
        chosen, why = _in_order([names.tags[tag.casefold()] for tag in tags]), "tag"
        named_by = tuple(first_tags[name] for name in chosen)
    elif matched:
        chosen, why, named_by = (matched,), "folder", (folders[0],)
    else:
        _refuse_near_miss(folders, names)
        chosen, why, named_by = names.otherwise, "otherwise", ()
    if not chosen:
        raise OriginalHeldError(Held.NO_DESTINATION, photographer=names.photographer, known=_known(names.tags))
    return Routing(
        picture=picture, stem=stem, folder=below, destinations=chosen, why=why, named_by=named_by, kept_tags=kept
    )


def _split(stem: str, names: RoutingNames) -> tuple[str, list[str], tuple[str, ...]]:
    """Return the name without tags, the known tags as written, and unknown ones that stay part of the name."""
    name, *parts = stem.split("@")
    tags: list[str] = []
    kept: list[str] = []
    for part in parts:
        if part.casefold() in names.tags:
            tags.append(part)
        elif names.keep_unknown:
            kept.append(part)
            name += "@" + part
        elif FORMER_DENSITY.fullmatch(part):
            raise OriginalHeldError(Held.FORMER_DENSITY, tag=part)
        else:
            raise OriginalHeldError(
                Held.UNKNOWN_TAG, tag=part, photographer=names.photographer,
                near=_near(part, names.tags), known=_known(names.tags),
            )  # fmt: skip
    if not name.strip():
        raise OriginalHeldError(Held.TAG_WITHOUT_NAME if parts else Held.NO_NAME)
    return name.strip(), tags, tuple(kept)


def _in_order(names: list[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names))


def _known(tags: Mapping[str, str]) -> str:
    return ", ".join(f"@{tag}" for tag in tags)


def _near(name: str, known: Mapping[str, str]) -> str:
    best = max(known, key=lambda candidate: _likeness(name.casefold(), candidate), default=None)
    if best is None or _likeness(name.casefold(), best) < 0.6:
        return ""
    return f" (did you mean “@{best}”?)"


def _likeness(one: str, other: str) -> float:
    return SequenceMatcher(None, one, other).ratio()


def _refuse_near_miss(folders: tuple[str, ...], names: RoutingNames) -> None:
    """Hold what lies in a first folder that is one typo away from a destination."""
    if not folders:
        return
    name = folders[0].casefold()
    for known in names.subfolders:
        if is_one_typo(name, known):
            raise OriginalHeldError(Held.NEAR_MISS_FOLDER, folder=folders[0], near=known)


def is_one_typo(one: str, other: str) -> bool:
    """Return whether one letter added, left out or changed, or two neighbours swapped, lead from *one* to *other*.

    (A Damerau-Levenshtein distance of 1: F. J. Damerau, CACM 7(3), 1964.)
    """
    if one == other or abs(len(one) - len(other)) > 1:
        return False
    start = next((i for i, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))
    a, b = one[start:], other[start:]
    return a[1:] == b[1:] or a[1:] == b or a == b[1:] or (a[:2] == b[1::-1] and len(b) > 1 and a[2:] == b[2:])
