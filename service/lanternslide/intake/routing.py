"""Where an original goes: tags in its name first, else its first folder, else `otherwise`. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from pathlib import Path

from lanternslide.errors import OriginalHeldError
from lanternslide.records import Routing
from lanternslide.words import Held

__all__ = ["Place", "route"]

FORMER_DENSITY = re.compile(r"[1-4](?:\.[0-9]+)?x(?:-[0-9]+| ?\([0-9]+\))?", re.IGNORECASE)
"""How earlier versions ended the names of deliveries for screens of high density; copies of those have a number too."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Place:
    """What a photographer's destinations are called."""

    photographer: str
    tags: Mapping[str, str]  #: From a tag, case-folded, to its destination.
    subfolders: Mapping[str, str]  #: From a folder's name, case-folded, to its destination.
    otherwise: tuple[str, ...]  #: For files without tag or subfolder.
    keep_unknown: bool = False  #: Whether an unknown tag is part of the name.


def route(relative: Path, place: Place) -> Routing:
    """Return where the original at *relative* (below the drop folder) goes.

    Raises
    ------
    OriginalHeldError
        If that is not clearly said: nothing is published to a place that its owner did not name.
    """
    stem, tags, kept = _split(relative.stem, place)
    folders = relative.parts[:-1]
    matched = place.subfolders.get(folders[0].casefold()) if folders else None
    picture = relative.with_name(stem + relative.suffix)
    below = Path(*(folders[1:] if matched else folders))
    if tags:
        first_tags = {place.tags[tag.casefold()]: tag for tag in reversed(tags)}
        chosen, why = _in_order([place.tags[tag.casefold()] for tag in tags]), "tag"
        named_by = tuple(first_tags[name] for name in chosen)
    elif matched:
        chosen, why, named_by = (matched,), "folder", (folders[0],)
    else:
        _refuse_near_miss(folders, place)
        chosen, why, named_by = place.otherwise, "otherwise", ()
    if not chosen:
        raise OriginalHeldError(Held.NO_DESTINATION, photographer=place.photographer, known=_known(place.tags))
    return Routing(
        picture=picture, stem=stem, folder=below, destinations=chosen, why=why, named_by=named_by, kept_tags=kept
    )


def _split(stem: str, place: Place) -> tuple[str, list[str], tuple[str, ...]]:
    """Return the name without tags, the known tags as written, and unknown ones that stay part of the name."""
    name, *parts = stem.split("@")
    tags: list[str] = []
    kept: list[str] = []
    for part in parts:
        if part.casefold() in place.tags:
            tags.append(part)
        elif place.keep_unknown:
            kept.append(part)
            name += "@" + part
        elif FORMER_DENSITY.fullmatch(part):
            raise OriginalHeldError(Held.FORMER_DENSITY, tag=part)
        else:
            raise OriginalHeldError(
                Held.UNKNOWN_TAG, tag=part, photographer=place.photographer,
                near=_near(part, place.tags), known=_known(place.tags),
            )  # fmt: skip
    if not name.strip():
        raise OriginalHeldError(Held.TAG_WITHOUT_NAME)
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


def _refuse_near_miss(folders: tuple[str, ...], place: Place) -> None:
    """Hold what lies in a first folder that is one typo away from a destination."""
    if not folders:
        return
    name = folders[0].casefold()
    for known in place.subfolders:
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
