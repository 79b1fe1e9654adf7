"""What is installed in each of the three ways: one service for all, one for each photographer, one for one user."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from lanternslide.config import Settings
from lanternslide.install.access import Access, access_of, access_of_one
from lanternslide.install.systemd import DROP_IN, Installation
from lanternslide.install.units import Run, photographers_unit, service_unit, sysusers, tmpfiles
from lanternslide.storage.mounts import Mount

__all__ = ["BESIDE_UNITS", "UNITS", "Folders", "for_all", "for_each", "for_user", "user_units"]

UNITS = Path("/etc/systemd/system")
"""Where an administrator's units lie (systemd.unit(5))."""

SYSUSERS, TMPFILES = Path("/etc/sysusers.d/lanternslide.conf"), Path("/etc/tmpfiles.d/lanternslide.conf")
BESIDE_UNITS = (SYSUSERS, TMPFILES)
"""What has the service's user and its state folder made (sysusers.d(5), tmpfiles.d(5))."""


def user_units() -> Path:
    """Return the folder of this user's units (systemd.unit(5), "User Unit Search Path")."""
    return platformdirs.user_config_path("systemd") / "user"


@dataclass(frozen=True, kw_only=True, slots=True)
class Folders:
    """What lies where."""

    state: Path  #: The state folder.
    config: Path  #: The config's folder.
    program: tuple[Path, ...]  #: What has to be readable beside it: the interpreter and the package.
    mounts: tuple[Mount, ...] = ()  #: What is mounted.


def for_all(settings: Settings, run: Run, folders: Folders) -> tuple[Installation, Access]:
    """Return what one service for all photographers takes, and what it may see.

    Raises
    ------
    InstallError
        If a folder to be written cannot be told apart from the system's own.
    """
    access = access_of(settings, folders.state, (*folders.program, folders.config), folders.mounts)
    plan = Installation(
        files={
            SYSUSERS: sysusers(folders.state),
            TMPFILES: tmpfiles(folders.state),
            UNITS / "lanternslide.service": service_unit(run, access),
        },
        commands=(
            ("systemd-sysusers", str(SYSUSERS)),
            ("systemd-tmpfiles", "--create", str(TMPFILES)),
            ("systemctl", "daemon-reload"),
        ),
        units=("lanternslide",),
    )
    return plan, access


def for_each(
    settings: Settings,
    folders: Folders,
    groups: Mapping[str, str],
    run: Run,
) -> tuple[Installation, dict[str, Access]]:
    """Return what a service for each photographer takes, and what each may see.

    Parameters
    ----------
    groups
        The group of each photographer's user.
    run
        How each of them is run.

    Raises
    ------
    InstallError
        If something cannot be shown to one without what is another's.
    """
    access = {
        name: access_of_one(settings, name, folders.state, folders.program, folders.config)
        for name in settings.photographers
    }
    files = {
        TMPFILES: tmpfiles(folders.state, groups),
        UNITS / "lanternslide@.service": service_unit(run, None, each=True),
    }
    for name, seen in access.items():
        files[UNITS / f"lanternslide@{name}.service.d" / DROP_IN] = photographers_unit(name, run, seen)
    plan = Installation(
        files=files,
        commands=(("systemd-tmpfiles", "--create", str(TMPFILES)), ("systemctl", "daemon-reload")),
        units=tuple(f"lanternslide@{name}" for name in access),
    )
    return plan, access


def for_user(run: Run, units: Path) -> Installation:
    """Return what a service for one user takes; *units* is the folder of that user's units."""
    return Installation(
        files={units / "lanternslide.service": service_unit(run, None, user=True)},
        commands=(("systemctl", "--user", "daemon-reload"),),
        units=("lanternslide",),
    )
