"""The files that have systemd start the service, from a config. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined

from lanternslide.install.access import Access
from lanternslide.install.escape import command_line, listed_path

__all__ = ["ACCOUNT", "MARK", "Run", "photographers_unit", "service_unit", "sysusers", "tmpfiles"]

ACCOUNT = "lanternslide"
"""The user that a service for all photographers runs as."""

MARK = "Written by `lanternslide install`, which writes it over; `lanternslide uninstall` deletes it."
"""The first line of every file, after its #: what lacks it is somebody else's."""

GROWING_PAUSES = 254
"""The systemd from which on the pause before a restart can grow (systemd.service(5), RestartSteps=)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Run:
    """How the service is run."""

    python: Path  #: The interpreter that has lanternslide.
    config: Path  #: The config, whole.
    memory_mib: int  #: What the service may take: the workers' budget, and what is beside it, MiB.
    stop_seconds: int  #: What a stop in order may take.
    version: int = 0  #: Of systemd; 0: not known, so that nothing new is relied on.
    network: bool = False  #: Whether the work goes to other machines.


def service_unit(run: Run, access: Access | None, *, user: bool = False, each: bool = False) -> str:
    """Return the unit of the service.

    Parameters
    ----------
    access
        What it may see and write; None where that is not in this file.
    user
        For one user, without root: what only root may limit is left out.
    each
        A template, of which each photographer has an instance.
    """
    words = ["-m", "lanternslide", "--config", str(run.config), "watch"]
    # The instance's name is systemd's to fill in, so it is not escaped with the rest.
    command = command_line(run.python, words) + (" --photographer %i" if each else "")
    return _render(
        "service.j2",
        name="lanternslide@NAME" if each else "lanternslide", account=ACCOUNT, user=user, each=each, access=access,
        command=command, steps=run.version >= GROWING_PAUSES, network=run.network, stop_seconds=run.stop_seconds,
        memory_mib=run.memory_mib,
    )  # fmt: skip


def photographers_unit(photographer: str, run: Run, access: Access) -> str:
    """Return the part of the unit that is *photographer*'s own."""
    return _render("photographer.j2", photographer=photographer, memory_mib=run.memory_mib, access=access)


def sysusers(state: Path) -> str:
    """Return the entry that has the service's user made (sysusers.d(5)); its home is the state folder."""
    return f'# {MARK}\nu {ACCOUNT} - "Makes web pictures" {listed_path(state)}\n'


def tmpfiles(state: Path, owners: Mapping[str, str] | None = None) -> str:
    """Return the entries that have the state folders made, closed to others (tmpfiles.d(5)).

    Parameters
    ----------
    owners
        For each photographer's service the group of their user; None: one service for all.
    """
    lines = [f"# {MARK}"]
    if owners is None:
        lines.append(f"d {listed_path(state)} 0700 {ACCOUNT} {ACCOUNT}")
        # What root has tried out is the service's from now on.
        lines.append(f"Z {listed_path(state)} - {ACCOUNT} {ACCOUNT}")
    else:
        lines.append(f"d {listed_path(state)} 0755 root root")
        lines += [f"d {listed_path(state / name)} 0700 {name} {group}" for name, group in owners.items()]
    return "\n".join(lines) + "\n"


def _render(template: str, **places: object) -> str:
    return _templates().get_template(template).render(mark=MARK, **places)


@cache
def _templates() -> Environment:
    return Environment(
        loader=PackageLoader("lanternslide.install"), undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
        keep_trailing_newline=True, autoescape=False,  # noqa: S701 - unit files, whose names are escaped by their own rules
    )  # fmt: skip
