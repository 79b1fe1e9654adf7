"""Folders that must lie apart."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

from lanternslide.config.settings import Destination, Settings

__all__ = ["NamedFolder", "named_folders", "overlaps"]


@dataclass(frozen=True, kw_only=True, slots=True)
class NamedFolder:
    """A folder of the config with the key that names it."""

    key: str  #: The key's path.
    folder: Path  #: Absolute, links resolved.


def named_folders(settings: Settings, overridden: dict[tuple[str, str], Destination]) -> Iterator[NamedFolder]:
    """Yield every folder that *settings* name, destinations once for each photographer they vary with."""
    if settings.service.state is not None:
        yield NamedFolder(key="service.state", folder=settings.service.state.resolve())
    for name, photographer in settings.photographers.items():
        yield NamedFolder(key=f"photographers.{name}.drop", folder=photographer.drop.resolve())
        if isinstance(photographer.originals, Path):
            yield NamedFolder(key=f"photographers.{name}.originals", folder=photographer.originals.resolve())
        if isinstance(photographer.proofs, Path):
            yield NamedFolder(key=f"photographers.{name}.proofs", folder=photographer.proofs.resolve())
    for name, destination in settings.destinations.items():
        folders = {destination.folder_for(owner).resolve() for owner in settings.photographers}
        for folder in sorted(folders or {destination.folder.resolve()}):
            yield NamedFolder(key=f"destinations.{name}.folder", folder=folder)
    for (owner, name), destination in overridden.items():
        if destination.folder != settings.destinations[name].folder:
            key = f"photographers.{owner}.overrides.{name}.folder"
            yield NamedFolder(key=key, folder=destination.folder_for(owner).resolve())


def overlaps(folders: Iterator[NamedFolder]) -> Iterator[tuple[NamedFolder, NamedFolder]]:
    """Yield the pairs of which the first lies inside, or is, the second."""
    seen: set[tuple[str, str]] = set()
    for one, other in combinations(folders, 2):
        if one.key == other.key:
            continue
        inner, outer = (one, other) if one.folder.is_relative_to(other.folder) else (other, one)
        if inner.folder.is_relative_to(outer.folder) and (inner.key, outer.key) not in seen:
            seen.add((inner.key, outer.key))
            yield inner, outer
