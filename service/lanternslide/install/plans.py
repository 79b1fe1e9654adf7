"""What is installed in each of the three ways: one service for all, one for each photographer, one for one user."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from lanternslide.config import Settings
from lanternslide.install.access import Access, access_of, access_of_one
from lanternslide.install.systemd import DROP_IN, Installation
from lanternslide.install.units import Run, photographers_unit, service_unit, sysusers, tmpfiles
from lanternslide.intake import Mount

__all__ = ["ETC", "Folders", "for_all", "for_each", "for_user"]

ETC = Path("/etc")
"""Where an administrator's files lie (file-hierarchy(7))."""


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
    users, made = ETC / "sysusers.d/lanternslide.conf", ETC / "tmpfiles.d/lanternslide.conf"
    plan = Installation(
        files={
            users: sysusers(folders.state),
            made: tmpfiles(folders.state),
            ETC / "systemd/system/lanternslide.service": service_unit(run, access),
        },
        commands=(
            ("systemd-sysusers", str(users)),
            ("systemd-tmpfiles", "--create", str(made)),
            ("systemctl", "daemon-reload"),
        ),
        units=("lanternslide",),
    )
    return plan, access


def for_each(
    settings: Settings,
    folders: Folders,
    groups: Mapping[str, str],
    run_of: Callable[[str], Run],
) -> tuple[Installation, dict[str, Access]]:
    """Return what a service for each photographer takes, and what each may see.

    Parameters
    ----------
    groups
        The group of each photographer's user.
    run_of
        How the service of a photographer is run.

    Raises
    ------
    InstallError
        If something cannot be shown to one without what is another's.
    """
    access = {
        name: access_of_one(settings, name, folders.state, folders.program, folders.config)
        for name in settings.photographers
    }
    made = ETC / "tmpfiles.d/lanternslide.conf"
    units = ETC / "systemd/system"
    files = {
        made: tmpfiles(folders.state, groups),
        units / "lanternslide@.service": service_unit(run_of(next(iter(access))), None, each=True),
    }
    for name, seen in access.items():
        files[units / f"lanternslide@{name}.service.d" / DROP_IN] = photographers_unit(name, run_of(name), seen)
    plan = Installation(
        files=files,
        commands=(("systemd-tmpfiles", "--create", str(made)), ("systemctl", "daemon-reload")),
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
