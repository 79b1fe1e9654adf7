"""What this machine has: cores and memory that may be used."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import psutil

__all__ = ["BESIDE_WORKERS", "memory_bytes", "usable_cores"]

CGROUPS = Path("/sys/fs/cgroup")


BESIDE_WORKERS = 512 * 2**20
"""Bytes that a control group needs beyond the workers' budget: the main process, and what the system buffers."""


def usable_cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def memory_bytes(services: int = 1, cgroups: Path = CGROUPS, own: Path = Path("/proc/self/cgroup")) -> int:
    """Return how many bytes all workers may take together.

    Half of the machine's memory, shared by so many services; less where the control group does not leave that beside
    `BESIDE_WORKERS`, but no less than half of what the group may take.
    """
    share = _whole_memory() // 2 // services
    return min([share, *(max(limit - BESIDE_WORKERS, limit // 2) for limit in _limits(cgroups, own))])


def _whole_memory() -> int:
    if sys.platform == "win32":
        return int(psutil.virtual_memory().total)
    # A hardened service sees no /proc/meminfo, which psutil would read; this asks the kernel.
    return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")


def _limits(cgroups: Path, own: Path) -> Iterator[int]:
    """Yield the limits of this process's control group and those above it (Linux, cgroup v2: memory.max)."""
    try:
        lines = own.read_text("utf-8").splitlines()
    except OSError:  # another system
        return
    group = next((line[3:] for line in lines if line.startswith("0::")), None)
    if group is None:
        return
    folder = cgroups / group.lstrip("/")
    while folder.is_relative_to(cgroups):
        try:
            found = (folder / "memory.max").read_text("ascii").strip()
        except OSError:  # no controller here
            found = "max"
        if found.isdigit():
            yield int(found)
        folder = folder.parent
