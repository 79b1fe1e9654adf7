"""What every command that works needs: settings, the state folder under lock, the ledger."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from lanternslide.config import Settings, check_apart, find_config, load_settings
from lanternslide.config.limits import share_of_memory
from lanternslide.errors import StateError, StateUnsureError, UsageError
from lanternslide.ledger import LEDGER_FILE, UNSURE_NOTE, Ledger, StateLock
from lanternslide.ledger.state_folder.lock import PATIENCE_SECONDS
from lanternslide.ledger.state_folder.session import has_log, is_another_state
from lanternslide.words import Command, say

__all__ = [
    "Named",
    "divided_among",
    "has_ledger",
    "is_root",
    "ledger_to_read",
    "open_ledger",
    "open_settings",
    "refuse_divided",
    "refuse_strangers",
    "state_folder",
]

WATCH_PATIENCE = 10.0
"""Seconds for which a service that starts waits for a short command that holds the state folder."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Named:
    """What a command line names for every command."""

    config: Path | None = None  #: The config file.
    photographer: str | None = None  #: Whose service is meant, where each photographer has one of their own.


def open_settings(named: Named) -> Settings:
    """Return the settings of the config that was named, or of the usual one; of one photographer, if one is named.

    Raises
    ------
    ConfigError
        If there is none, or with all that is wrong with it.
    UsageError
        If there is no such photographer.
    """
    file = find_config(named.config, os.environ)
    settings = load_settings(file)
    if named.photographer is None:
        return settings
    if named.photographer not in settings.photographers:
        known = ", ".join(settings.photographers)
        raise UsageError(say(Command.NO_SUCH_PHOTOGRAPHER, found=named.photographer, known=known).text)
    check_apart(str(file), settings)
    return settings.only(
        named.photographer,
        state=state_folder(settings, os.environ) / named.photographer,
        memory=share_of_memory(settings.service, len(settings.photographers)),
    )


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
    UsageError
        If it holds the folders of single photographers.
    """
    folder = state_folder(settings, os.environ)
    refuse_strangers(settings, folder)
    patience = WATCH_PATIENCE if command == "watch" else PATIENCE_SECONDS
    with StateLock(folder, f"lanternslide {command}", patience):
        # Asked before it is opened, which gives it another word.
        if not has_log(folder / LEDGER_FILE) and is_another_state(folder / LEDGER_FILE):
            raise StateUnsureError(str(folder / LEDGER_FILE))
        with Ledger(folder) as ledger:
            if ledger.notes.get(UNSURE_NOTE) is not None:
                raise StateUnsureError(str(folder / LEDGER_FILE))
            yield ledger


def ledger_to_read(settings: Settings) -> Ledger:
    """Return the ledger for reading alone; an empty one where there is none yet, since no state folder is made here.

    Raises
    ------
    StateError
        If it cannot be read.
    UsageError
        If the state folder holds those of single photographers.
    """
    folder = state_folder(settings, os.environ)
    refuse_divided(settings, folder)
    return Ledger.to_read(folder) or Ledger.empty(folder)


def has_ledger(folder: Path) -> bool:
    """Return whether a ledger is seen in a state folder; in one that is closed to this user, none is."""
    return os.path.exists(folder / LEDGER_FILE)  # noqa: PTH110 - Path.exists raises where it may not look


def divided_among(settings: Settings, folder: Path) -> list[str]:
    """Return the photographers whose services have a folder each in the state folder, which has no ledger itself."""
    if has_ledger(folder):
        return []
    return [name for name in settings.photographers if has_ledger(folder / name)]


def is_root() -> bool:
    """Return whether the user may do everything."""
    return sys.platform != "win32" and os.geteuid() == 0


def refuse_strangers(settings: Settings, folder: Path) -> None:
    """Refuse what would leave files in *folder* that its service cannot use, or begin a second ledger."""
    refuse_divided(settings, folder)
    if sys.platform == "win32":
        return
    if is_root() and folder.is_dir() and folder.stat().st_uid != 0:
        raise StateError(say(Command.NOT_AS_ROOT, folder=folder, user=folder.owner()).text)


def refuse_divided(settings: Settings, folder: Path) -> None:
    """Refuse a state folder in which each photographer's service has a folder of its own, and none is named."""
    if divided_among(settings, folder):
        known = ", ".join(settings.photographers)
        raise UsageError(say(Command.NAME_PHOTOGRAPHER, folder=folder, known=known).text)
