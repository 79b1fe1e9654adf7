"""Namespaces of a container's own: its throw-away root and its processes end with the test's process.

The mechanics are systemd-nspawn's on machines whose own first process need not be systemd: a private mount and process
namespace, a /run in memory (it refuses one on a disk), no machine manager (``--register=no --keep-unit``).
"""

from __future__ import annotations

import itertools
import os
import signal
import subprocess
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO

__all__ = ["ROOT", "Layers", "Stage", "inside", "stage"]

ROOT = "/run/root"
"""Where a container's root lies in its stage's namespace."""

CGROUPS = Path("/sys/fs/cgroup")
PREFIX = "lanternslide-test"

UNIFIED = {"UNIFIED_CGROUP_HIERARCHY": "1"}
"""Has systemd-nspawn give the container the one hierarchy of control groups that Debian has, whatever this machine has.

Controllers that this machine uses in the old hierarchies are missing from it then: no limit of memory is kept."""

SETUP = f"""
set -eu
# The host's /proc is still there: this is the number that the host knows.
read -r pid rest < /proc/self/stat
mount --make-rprivate /
mount -t proc proc /proc
mount -t tmpfs -o mode=755 tmpfs /run
mkdir -p /run/systemd /run/lock /run/upper /run/work {ROOT}
# xino: files of all layers and folders show the same device, as on a disk.
mount -t overlay -o "lowerdir=$1,upperdir=${{2:-/run/upper}},workdir=${{3:-/run/work}},xino=on" overlay {ROOT}
echo "$pid"
while :; do sleep 3600 & wait $!; done
"""


@dataclass(frozen=True)
class Layers:
    """What a root is laid out of: folders, the uppermost first, and the wheels that lie at /wheels."""

    folders: tuple[Path, ...]
    wheels: Path


@dataclass(frozen=True)
class Stage:
    """The namespaces, held by a process that does nothing else."""

    keeper: int
    group: str
    layers: Layers

    @property
    def root(self) -> Path:
        """The root from outside, also while nothing runs in it; mounts that the container makes are not seen."""
        return Path(f"/proc/{self.keeper}/root{ROOT}")

    def container(self, *what: str, log: IO[str]) -> subprocess.Popen[str]:
        """Start systemd-nspawn with *what*: ``--boot``, or ``--`` and a command."""
        groups = " ".join(f"{folder}/cgroup.procs" for folder in _groups(self.group))
        join = f'for group in {groups}; do echo 0 > "$group"; done; exec "$@"'
        nspawn = [
            "systemd-nspawn", "--quiet", "--register=no", "--keep-unit", "--settings=no", "--link-journal=no",
            "--resolv-conf=off", "--timezone=off", "--private-network", "--console=pipe", "--machine=harbour",
            "--bind=/dev/fuse", f"--bind-ro={self.layers.wheels}:/wheels", f"--directory={ROOT}", *what,
        ]  # fmt: skip
        return subprocess.Popen(
            ["nsenter", f"--target={self.keeper}", "--mount", "--pid", "--", "sh", "-c", join, "sh", *nspawn],
            stdin=subprocess.DEVNULL, stdout=log, stderr=log, text=True, env=os.environ | UNIFIED,
        )  # fmt: skip

    def leader(self) -> int | None:
        """Return the host's number of the container's first process, if it is there."""
        own = inside(self.keeper)
        for process in Path("/proc").glob("[0-9]*"):
            with suppress(OSError):
                fields = _status(process)
                if (
                    fields["NSpid"].split()[-1] == "1"
                    and fields["Name"] == "systemd"
                    and inside(int(fields["PPid"])) == own
                ):
                    return int(process.name)
        return None


def inside(process: int) -> str | None:
    """Return the process namespace of a process, or None if it has ended."""
    with suppress(OSError):
        return str(Path(f"/proc/{process}/ns/pid").readlink())
    return None


def _status(process: Path) -> dict[str, str]:
    lines = (line.partition(":") for line in (process / "status").read_text().splitlines())
    return {name: value.strip() for name, _, value in lines}


def _groups(name: str) -> list[Path]:
    """Return the folders of a control group in the hierarchies that systemd manages: one, or two where mixed."""
    roots = [CGROUPS] if (CGROUPS / "cgroup.procs").exists() else [CGROUPS / "systemd", CGROUPS / "unified"]
    return [root / name for root in roots if root.is_dir()]


_numbers = itertools.count()


@contextmanager
def stage(layers: Layers, upper: Path | None = None, work: Path | None = None) -> Iterator[Stage]:
    """Hold namespaces with a root over *layers* meanwhile.

    What is written goes into memory, or into the folder *upper*, with an empty folder *work* beside it.
    """
    _sweep(_groups(f"{PREFIX}-*"))
    group = f"{PREFIX}-{os.getpid()}-{next(_numbers)}"
    for folder in _groups(group):
        folder.mkdir()
    lower = ":".join(map(str, layers.folders))
    # setpriv: the keeper is killed with this process, however that ends, and with the keeper all in its namespace.
    command = [
        "setpriv",
        "--pdeathsig=KILL",
        "unshare",
        "--mount",
        "--pid",
        "--fork",
        "--kill-child",
        "sh",
        "-c",
        SETUP,
    ]
    arguments = ["sh", lower, str(upper or ""), str(work or "")]
    with subprocess.Popen(
        [*command, *arguments], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True
    ) as holder:
        try:
            assert holder.stdout is not None
            answer = holder.stdout.readline()
            assert answer, "the namespaces could not be set up"
            keeper = int(answer)
            try:
                yield Stage(keeper, group, layers)
            finally:
                # The first process of its namespace ends when all others there have; the holder waits for it.
                with suppress(ProcessLookupError):
                    os.kill(keeper, signal.SIGKILL)
        finally:
            holder.wait()
            _remove(_groups(group))


def _sweep(patterns: Iterable[Path]) -> None:
    """Remove the control groups of test runs that were killed."""
    for pattern in patterns:
        for folder in pattern.parent.glob(pattern.name):
            if not Path("/proc", folder.name.split("-")[2]).exists():
                _remove([folder])


def _remove(folders: Iterable[Path]) -> None:
    """Remove control groups with all below; the last processes in them may still be ending."""
    end = time.monotonic() + 10
    for top in folders:
        while top.is_dir():
            with suppress(OSError):
                for folder in (*sorted((path for path in top.rglob("*") if path.is_dir()), reverse=True), top):
                    folder.rmdir()
            if top.is_dir():
                assert time.monotonic() < end, f"{top} cannot be removed"
                time.sleep(0.05)
