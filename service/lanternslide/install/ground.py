"""Whether what is to be installed would work: the program within reach, users and folders there."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

from lanternslide.errors import InstallError
from lanternslide.words import Install

__all__ = ["check_as", "check_folders", "check_reach", "groups_of", "program_folders"]


def program_folders() -> tuple[Path, ...]:
    """Return the folders that hold the program: its environment, that one's Python, and the package."""
    package = Path(__file__).resolve().parents[1]
    found = {Path(sys.prefix), Path(sys.base_prefix), Path(os.path.realpath(sys.executable)).parent, package}
    return tuple(sorted(found))


def check_reach(paths: Iterable[Path]) -> None:
    """Raise InstallError if a user without rights of its own could not get at one of *paths*."""
    for path in paths:
        for folder in reversed((path, *path.parents)):
            needed = 0o005 if folder == path and folder.is_dir() else 0o004 if folder == path else 0o001
            if folder.stat().st_mode & needed != needed:
                raise InstallError(Install.UNREACHABLE, path=path, folder=folder)


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
            groups[name] = grp.getgrgid(pwd.getpwnam(name).pw_gid).gr_name
        except KeyError as error:
            raise InstallError(Install.NO_ACCOUNT, photographer=name) from error
    return groups


def check_folders(owned: dict[str, list[Path]]) -> None:
    """Raise InstallError, with the commands that make them, if folders of photographers are missing."""
    missing = [(owner, folder) for owner, folders in owned.items() for folder in folders if not folder.is_dir()]
    if missing:
        commands = "; ".join(f"install -d -m 2770 -o {owner} {shlex.quote(str(path))}" for owner, path in missing)
        raise InstallError(Install.FOLDERS_MISSING, commands=commands)


def check_as(account: str, config: Path, *more: str) -> subprocess.CompletedProcess[str]:
    """Return what `lanternslide check` says to the user *account*."""
    if sys.platform == "win32":
        raise InstallError(Install.NO_SYSTEMD)
    import pwd  # noqa: PLC0415 - Windows does not have it

    who = pwd.getpwnam(account)
    return subprocess.run(
        [sys.executable, "-m", "lanternslide", "--config", str(config), "check", *more],
        user=who.pw_uid, group=who.pw_gid, extra_groups=os.getgrouplist(account, who.pw_gid), cwd="/",
        env={"PATH": "/usr/bin:/bin", "HOME": who.pw_dir, "LANG": os.environ.get("LANG", "C.UTF-8")},
        capture_output=True, encoding="utf-8", errors="replace", check=False,
    )  # fmt: skip
