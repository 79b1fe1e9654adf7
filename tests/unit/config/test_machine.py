"""What this machine has, and what a control group leaves of it (cgroup v2)."""

from __future__ import annotations

import os
from pathlib import Path

import psutil
import pytest

from lanternslide.config.machine import memory_bytes, usable_cores

MIB = 1 << 20
OWN = "1:name=systemd:/x\n0::/system.slice/lanternslide.service\n"


@pytest.fixture
def group(tmp_path: Path) -> Path:
    """Return the folder of this process's control group; those above it are there too."""
    group = tmp_path / "cgroup" / "system.slice" / "lanternslide.service"
    group.mkdir(parents=True)
    (tmp_path / "own").write_text(OWN)
    return group


def memory_in(root: Path) -> int:
    """Return the memory that all workers may take in the control groups below *root*."""
    return memory_bytes(1, root / "cgroup", root / "own")


@pytest.mark.parametrize(
    ("limit", "expected"),
    # A small group keeps half for what is beside the workers; a large one keeps 512 MiB.
    [(512, 256), (1023, 511.5), (1024, 512), (1025, 513), (1100, 588)],
)
def test_a_control_group_limits_the_memory(tmp_path: Path, group: Path, limit: int, expected: float) -> None:
    """What the groups above leave beside the main process counts too."""
    (group / "memory.max").write_text("max\n")
    (group.parent / "memory.max").write_text(f"{limit * MIB}\n")

    assert memory_in(tmp_path) == expected * MIB


@pytest.mark.parametrize("limits", [(900, 1024), (1024, 900)])
def test_the_smallest_group_counts(tmp_path: Path, group: Path, limits: tuple[int, int]) -> None:
    """Whichever of those around it that is; the root has its own, where a container set one."""
    for folder, limit in zip((group, tmp_path / "cgroup"), limits, strict=True):
        (folder / "memory.max").write_text(f"{limit * MIB}\n")

    assert memory_in(tmp_path) == 450 * MIB


@pytest.mark.parametrize("what", ["no group", "version 1", "no limit", "no controller", "a large limit"])
def test_without_a_limit_it_is_half_of_the_machine(tmp_path: Path, group: Path, what: str) -> None:
    """Where the system tells of no limit, or of one beyond what there is."""
    match what:
        case "no group":
            (tmp_path / "own").unlink()
        case "version 1":
            (tmp_path / "own").write_text("1:memory:/system.slice\n")
            (group.parent / "memory.max").write_text(f"{MIB}\n")
        case "no limit":
            (group / "memory.max").write_text("max\n")
        case "a large limit":
            (group / "memory.max").write_text(f"{1 << 60}\n")
        case _:
            assert not (group / "memory.max").exists()

    assert memory_in(tmp_path) == psutil.virtual_memory().total // 2


def test_services_share_half_of_the_machine(tmp_path: Path) -> None:
    """Without a limit, all services together take half of the machine's memory."""
    alone, of_three = (memory_bytes(services, tmp_path, tmp_path / "none") for services in (1, 3))

    assert alone == psutil.virtual_memory().total // 2
    assert 0 <= alone - 3 * of_three < 3


@pytest.mark.skipif(not hasattr(os, "sched_setaffinity"), reason="the system does not bind processes to cores")
def test_only_cores_that_this_process_may_use_count() -> None:
    """A container or an owner may have left it one of many."""
    allowed = os.sched_getaffinity(0)
    assert usable_cores() == len(allowed)
    try:
        os.sched_setaffinity(0, {min(allowed)})
        assert usable_cores() == 1
    finally:
        os.sched_setaffinity(0, allowed)
