"""What every command that works needs: settings, the state folder under lock, the ledger."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import platformdirs

from lanternslide.config import Settings, find_config, load_settings
from lanternslide.ledger import Ledger, StateLock
from lanternslide.ledger.lock import PATIENCE_SECONDS

__all__ = ["ledger_to_read", "open_ledger", "open_settings", "state_folder"]

WATCH_PATIENCE = 10.0
"""Seconds for which a service that starts waits for a short command that holds the state folder."""


def open_settings(named: Path | None) -> Settings:
    """Return the settings of the config that was named, or of the usual one.

    Raises
    ------
    ConfigError
        If there is none, or with all that is wrong with it.
    """
    return load_settings(find_config(named, os.environ))


def state_folder(settings: Settings, environment: Mapping[str, str]) -> Path:
    """Return the state folder: the config's, else ``$STATE_DIRECTORY``, else the user's."""
    if settings.service.state is not None:
        return settings.service.state
    if environment.get("STATE_DIRECTORY"):
        # systemd lists several with colons between them (systemd.exec(5)); the first is ours.
        return Path(environment["STATE_DIRECTORY"].split(os.pathsep)[0])
    return Path(platformdirs.user_state_dir("lanternslide"))


@contextmanager
def open_ledger(settings: Settings, command: str) -> Iterator[Ledger]:
    """Open the ledger for *command*, for which the state folder is locked meanwhile.

    Raises
    ------
    StateError
        If the state folder cannot be used.
    """
    folder = state_folder(settings, os.environ)
    patience = WATCH_PATIENCE if command == "watch" else PATIENCE_SECONDS
    with StateLock(folder, f"lanternslide {command}", patience), Ledger(folder) as ledger:
        yield ledger


def ledger_to_read(settings: Settings) -> Ledger:
    """Return the ledger for reading alone; an empty one where there is none yet, since no state folder is made here.

    Raises
    ------
    StateError
        If it cannot be read.
    """
    folder = state_folder(settings, os.environ)
    return Ledger.to_read(folder) or Ledger.empty(folder)
