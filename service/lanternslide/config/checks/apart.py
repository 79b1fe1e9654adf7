"""What keeps photographers from having a service each: something that several of them would write."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

from lanternslide.config.settings import Settings
from lanternslide.errors import ConfigError, ConfigFault
from lanternslide.words import ConfigWord

__all__ = ["check_apart"]


def check_apart(file: str, settings: Settings) -> None:
    """Raise ConfigError where a folder's manifest would be written by the services of several photographers."""
    keepers: defaultdict[Path, dict[str, str]] = defaultdict(dict)
    for owner in settings.photographers:
        for name in settings.destinations_of(owner):
            destination = settings.destination_for(owner, name)
            if destination.manifest:
                keepers[destination.folder_for(owner)][owner] = name
    faults = [
        ConfigFault.of(
            file, f"destinations.{next(iter(owners.values()))}.manifest", ConfigWord.SHARED_MANIFEST,
            folder=folder, photographers=", ".join(owners), pattern="{photographer}",
        )
        for folder, owners in keepers.items()
        if len(owners) > 1
    ]  # fmt: skip
    if faults:
        raise ConfigError(faults)
