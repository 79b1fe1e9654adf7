"""Whether what is to be installed would work: the program within reach, users and folders there."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

from lanternslide.errors import InstallError
from lanternslide.install.access import Access
from lanternslide.words import Install

__all__ = ["check_as", "check_config", "check_folders", "check_owner", "check_reach", "groups_of", "program_folders"]


def program_folders() -> tuple[Path, ...]:
    """Return the folders that hold the program: its environment, that one's Python, and the package."""
    package = Path(__file__).resolve().parents[1]
    found = {Path(sys.prefix), Path(sys.base_prefix), Path(os.path.realpath(sys.executable)).parent, package}
    return tuple(sorted(found))


def check_reach(paths: Iterable[Path]) -> None:
    """Raise InstallError if a user without rights of its own could not get at one of *paths*."""
    for path in paths:
        closed = _closed_to_others(path)
        if closed is not None:
            raise InstallError(Install.UNREACHABLE, path=path, folder=closed)


def check_config(config: Path) -> None:
    """Raise InstallError if a user without rights of its own could not get at the folder of the *config*."""
    closed = _closed_to_others(config.parent)
    if closed is not None:
        raise InstallError(Install.CONFIG_UNREACHABLE, path=config, folder=closed)


def check_owner(folder: Path, account: str) -> None:
    """Raise InstallError if a state folder is there and belongs to anybody but root or the service's *account*."""
    if sys.platform == "win32":
        raise InstallError(Install.NO_SYSTEMD)
    try:
        owner = folder.owner()
    except (OSError, KeyError):  # it is not there yet, or cannot be seen
        return
    if owner not in ("root", account):
        raise InstallError(Install.STATE_OF_ANOTHER, folder=folder, user=owner, account=account)


def _closed_to_others(path: Path) -> Path | None:
    """Return *path* or the folder around it that others may not read or pass, if there is one."""
    for folder in reversed((path, *path.parents)):
        needed = 0o005 if folder == path and folder.is_dir() else 0o004 if folder == path else 0o001
        if folder.stat().st_mode & needed != needed:
            return folder
    return None


def groups_of(photographers: Iterable[str]) -> dict[str, str]:
    """Return the group of each photographer's user, who is called as the photographer is.

    Raises
    ------
    InstallError
        If there is no such user.
    """
    if sys.platform == "win32":
        raise InstallError(Install.NO_SYSTEMD)
    import grp  # noqa: PLC0415 - Windows does not have it
    import pwd  # noqa: PLC0415

    groups = {}
    for name in photographers:
        try:
            account = pwd.getpwnam(name)
        except KeyError as error:
            raise InstallError(Install.NO_ACCOUNT, photographer=name) from error
        if account.pw_uid == 0:
            raise InstallError(Install.AS_ROOT, photographer=name)
        groups[name] = grp.getgrgid(account.pw_gid).gr_name
    return groups


def check_folders(owned: dict[str, list[Path]]) -> None:
    """Raise InstallError, with the commands that make them, if folders of photographers are missing."""
    missing = [(owner, folder) for owner, folders in owned.items() for folder in folders if not folder.is_dir()]
    if missing:
        commands = "; ".join(f"install -d -m 2770 -o {owner} {shlex.quote(str(path))}" for owner, path in missing)
        raise InstallError(Install.FOLDERS_MISSING, commands=commands)


def check_as(account: str, access: Access, config: Path, *more: str) -> subprocess.CompletedProcess[str]:
    """Return what `lanternslide check` says to the user *account*, who sees what the service sees."""
    walls = ["ProtectSystem=strict", f"ProtectHome={access.home}", "PrivateTmp=yes", *access.lines().splitlines()]
    # Here names are taken as they are; in a unit a percent sign stands there twice.
    properties = [f"--property={wall.replace('%%', '%')}" for wall in walls]
    command = [sys.executable, "-m", "lanternslide", "--config", str(config), "check", *more]
    return subprocess.run(
        ["systemd-run", "--quiet", "--wait", "--pipe", "--collect", f"--uid={account}", *properties, *command],
        stdin=subprocess.DEVNULL, capture_output=True, encoding="utf-8", errors="replace", check=False,
    )  # fmt: skip
