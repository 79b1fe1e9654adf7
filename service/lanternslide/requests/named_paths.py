"""Which drop folder a path that an owner names lies in, by whatever way it is named."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from lanternslide.delivery import Reachability

__all__ = ["below_drops", "ways_to"]


def below_drops(
    named: Path, drops: Iterable[tuple[str, Path]], reachability: Reachability
) -> Iterator[tuple[str, Path]]:
    """Yield the photographer and the path below the drop folder, for each way that leads there from *named*.

    A folder may be reached by another way than the config names (over links); the file itself may be gone. A folder
    that does not answer is taken by its name alone.
    """
    found = list(drops)
    for candidate in ways_to(named, reachability):
        for photographer, drop in found:
            ways = dict.fromkeys([drop, _real(drop)] if reachability.answers(drop) else [drop])
            for way in ways:
                if candidate.is_relative_to(way):
                    yield photographer, candidate.relative_to(way)


def ways_to(named: Path, reachability: Reachability) -> list[Path]:
    """Return the paths that *named* may mean: as it is, without links on the way to it, and where itself leads."""
    if not reachability.answers(named.parent):
        return [named]
    return list(dict.fromkeys([named, _real(named.parent) / named.name, _real(named)]))


def _real(path: Path) -> Path:
    """Return a path without links."""
    return Path(os.path.realpath(path))
