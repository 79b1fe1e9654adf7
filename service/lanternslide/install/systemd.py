"""Installing with systemd: what is written where, which commands make it count, and taking all of it back."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from lanternslide.errors import InstallError
from lanternslide.install.units import MARK
from lanternslide.words import Install

__all__ = [
    "DROP_IN",
    "Installation",
    "Installed",
    "carry_out",
    "installed",
    "is_running",
    "systemd_version",
    "take_away",
]

STARTED_BY_SYSTEMD = Path("/run/systemd/system")
"""Is there where systemd runs (sd_booted(3))."""

DROP_IN = "folders.conf"
"""The name of the file with a photographer's folders."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Installation:
    """What is to be installed."""

    files: dict[Path, str]  #: What is written, in this order.
    commands: tuple[tuple[str, ...], ...]  #: What is run then.
    units: tuple[str, ...]  #: What the owner starts then.


@dataclass(frozen=True, kw_only=True, slots=True)
class Installed:
    """What was found installed."""

    files: tuple[Path, ...]
    has_account: bool  #: Whether a user was made for it.


def systemd_version() -> int:
    """Return the number of the systemd that runs this machine.

    Raises
    ------
    InstallError
        If none does.
    """
    if not STARTED_BY_SYSTEMD.is_dir():
        raise InstallError(Install.NO_SYSTEMD)
    return int(_run("systemctl", "--version").split()[1].split(".")[0])


def carry_out(plan: Installation) -> None:
    """Write the files of *plan* and have the system take them in.

    Raises
    ------
    InstallError
        If a file of somebody else's is in the way (nothing is changed then), or the system refuses something.
    """
    for path in plan.files:
        if path.exists() and not _is_ours(path):
            raise InstallError(Install.IN_THE_WAY, path=path)
    for path, text in plan.files.items():
        try:
            _write(path, text)
        except OSError as error:
            raise InstallError(Install.NOT_WRITTEN, path=path, detail=error) from error
    for command in plan.commands:
        _run(*command)


def installed(units: Path, extra: Sequence[Path] = ()) -> Installed:
    """Return what lies in the folder *units*, and at the paths *extra*, that was installed."""
    found = [path for path in (*_unit_files(units), *extra) if path.is_file() and _is_ours(path)]
    return Installed(files=tuple(found), has_account=any(path.parent.name == "sysusers.d" for path in found))


def take_away(found: Installed, systemctl: Sequence[str]) -> None:
    """Stop the service in order, and delete what was *found*.

    Parameters
    ----------
    systemctl
        The program that speaks with systemd, and for whom.

    Raises
    ------
    InstallError
        If the system refuses something; what is left can be taken away again.
    """
    units = sorted({path.name for path in found.files if path.suffix == ".service"})
    for unit in units:
        names = _instances(unit, systemctl) if unit.endswith("@.service") else [unit]
        if names:
            _run(*systemctl, "disable", "--now", *names)
            # One that has failed is forgotten, too; one that has not is none, which is no fault.
            subprocess.run([*systemctl, "reset-failed", *names], capture_output=True, check=False)
    for path in found.files:
        try:
            path.unlink()
            if path.name == DROP_IN and not any(path.parent.iterdir()):
                path.parent.rmdir()
        except OSError as error:
            raise InstallError(Install.NOT_WRITTEN, path=path, detail=error) from error
    _run(*systemctl, "daemon-reload")


def is_running(units: Sequence[str], systemctl: Sequence[str]) -> bool:
    """Return whether one of *units* runs, so that what is new counts only after it was started again."""
    done = subprocess.run([*systemctl, "is-active", "--quiet", *units], check=False)
    return done.returncode == 0


def _instances(template: str, systemctl: Sequence[str]) -> list[str]:
    """Return the instances of *template* that are loaded or to be started with the machine."""
    stem = template.removesuffix(".service")
    said = _run(*systemctl, "list-units", "--all", "--plain", "--no-legend", "--full", f"{stem}*.service")
    said += _run(*systemctl, "list-unit-files", "--plain", "--no-legend", "--full", f"{stem}*.service")
    names = {line.split()[0] for line in said.splitlines() if line.strip()}
    return sorted(names - {template})


def _unit_files(units: Path) -> Iterator[Path]:
    yield from (units / "lanternslide.service", units / "lanternslide@.service")
    yield from sorted(units.glob(f"lanternslide@*.service.d/{DROP_IN}"))


def _is_ours(path: Path) -> bool:
    with path.open(encoding="utf-8", errors="replace") as stream:
        return MARK in stream.readline()


def _write(path: Path, text: str) -> None:
    """Put *text* at *path*, whole or not at all, for everybody to read."""
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = path.with_name(f".{path.name}.part")
    temporary.unlink(missing_ok=True)
    with os.fdopen(os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o644), "w", encoding="utf-8") as stream:
        temporary.chmod(0o644)
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())
    temporary.replace(path)


def _run(*command: str) -> str:
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False, errors="replace")
    except OSError as error:
        raise InstallError(Install.REFUSED, command=" ".join(command), detail=error) from error
    if done.returncode != 0:
        detail = " ".join(done.stderr.split()) or f"exit status {done.returncode}"
        raise InstallError(Install.REFUSED, command=" ".join(command), detail=detail)
    return done.stdout
