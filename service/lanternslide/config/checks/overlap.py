"""Folders that must lie apart."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from threading import Thread

from lanternslide.config.settings import Destination, Settings

__all__ = ["NamedFolder", "named_folders", "overlaps"]

DEADLINE_SECONDS = 3.0
"""How long the folders' shares have to answer, all together."""


@dataclass(frozen=True, kw_only=True, slots=True)
class NamedFolder:
    """A folder of the config with the key that names it."""

    key: str  #: The key's path.
    folder: Path


def named_folders(settings: Settings, overridden: dict[tuple[str, str], Destination]) -> Iterator[NamedFolder]:
    """Yield every folder that *settings* name, destinations once for each photographer they vary with."""
    if settings.service.state is not None:
        yield NamedFolder(key="service.state", folder=settings.service.state)
    for name, photographer in settings.photographers.items():
        yield NamedFolder(key=f"photographers.{name}.drop", folder=photographer.drop)
        if isinstance(photographer.originals, Path):
            yield NamedFolder(key=f"photographers.{name}.originals", folder=photographer.originals)
        if isinstance(photographer.proofs, Path):
            yield NamedFolder(key=f"photographers.{name}.proofs", folder=photographer.proofs)
    for name, destination in settings.destinations.items():
        folders = {destination.folder_for(owner) for owner in settings.photographers}
        for folder in sorted(folders or {destination.folder}):
            yield NamedFolder(key=f"destinations.{name}.folder", folder=folder)
    for (owner, name), destination in overridden.items():
        if destination.folder != settings.destinations[name].folder:
            key = f"photographers.{owner}.overrides.{name}.folder"
            yield NamedFolder(key=key, folder=destination.folder_for(owner))


def overlaps(folders: Iterator[NamedFolder]) -> Iterator[tuple[NamedFolder, NamedFolder]]:
    """Yield the pairs of which the first lies inside, or is, the second, whatever links lead there."""
    seen: set[tuple[str, str]] = set()
    named = list(folders)
    real = _resolved({item.folder for item in named})
    for one, other in combinations(named, 2):
        if one.key == other.key:
            continue
        inner, outer = (one, other) if real[one.folder].is_relative_to(real[other.folder]) else (other, one)
        if real[inner.folder].is_relative_to(real[outer.folder]) and (inner.key, outer.key) not in seen:
            seen.add((inner.key, outer.key))
            yield inner, outer


def _resolved(folders: set[Path]) -> dict[Path, Path]:
    """Return where folders really lie; on a share that hangs, where they do by name, so that nobody waits for it."""
    real = {folder: folder.absolute() for folder in folders}

    def resolve(folder: Path) -> None:
        real[folder] = folder.resolve()

    threads = [Thread(target=resolve, args=(folder,), daemon=True) for folder in folders]
    for thread in threads:
        thread.start()
    deadline = time.monotonic() + DEADLINE_SECONDS
    for thread in threads:
        thread.join(max(0.0, deadline - time.monotonic()))
    return dict(real)
