"""Checks of a config as a whole: names that must exist, folders that must lie apart, what a cluster needs."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from lanternslide.config.checks.cluster import check_cluster
from lanternslide.config.checks.faults import quote
from lanternslide.config.checks.near import or_near
from lanternslide.config.checks.overlap import named_folders, overlaps
from lanternslide.config.settings import Destination, Settings
from lanternslide.errors import ConfigFault
from lanternslide.words import ConfigWord

__all__ = ["Overridden", "check_whole", "no_destination"]

Overridden = dict[tuple[str, str], Destination]
"""Destinations as a photographer's overrides change them, by photographer and destination."""


def no_destination(file: str, key: str, name: str, known: Collection[str]) -> ConfigFault:
    """Return the fault of a *name* that is none of the *known* destinations."""
    return ConfigFault.of(
        file, key, ConfigWord.NO_SUCH_DESTINATION,
        found=quote(name), near=or_near(name, known), known=", ".join(known),
    )  # fmt: skip


def check_whole(file: str, settings: Settings, overridden: Overridden, named: Collection[str]) -> Iterator[ConfigFault]:
    """Yield what is wrong with *settings* as a whole.

    *named* are the destinations that the config names, those with a fault of their own included.
    """
    yield from _unknown_destinations(file, settings, named)
    yield from _same_tags(file, settings)
    yield from _overlapping(file, settings, overridden)
    yield from check_cluster(file, settings)


def _unknown_destinations(file: str, settings: Settings, named: Collection[str]) -> Iterator[ConfigFault]:
    for owner, photographer in settings.photographers.items():
        used = photographer.destinations
        for key, names, known in (
            ("destinations", used or (), named),
            ("otherwise", photographer.otherwise, named if used is None else used),
        ):
            for name in names:
                if name not in known and named:  # with no destination at all, that alone is said
                    yield no_destination(file, f"photographers.{owner}.{key}", name, known)


def _overlapping(file: str, settings: Settings, overridden: Overridden) -> Iterator[ConfigFault]:
    for inner, outer in overlaps(named_folders(settings, overridden)):
        yield ConfigFault.of(
            file, inner.key, ConfigWord.OVERLAPPING_FOLDERS,
            folder=inner.folder, other=outer.key, other_folder=outer.folder,
        )  # fmt: skip


def _same_tags(file: str, settings: Settings) -> Iterator[ConfigFault]:
    for kind in ("tags", "subfolders"):
        meaning: dict[str, str] = {}
        for name, destination in settings.destinations.items():
            for tag in getattr(destination, kind) or (name,):
                other = meaning.setdefault(tag.casefold(), name)
                if other != name:
                    key = f"destinations.{name}.{kind}"
                    yield ConfigFault.of(file, key, ConfigWord.SAME_TAG, tag=tag, other=other)
