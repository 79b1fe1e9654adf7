"""What memory a worker has taken at its most, and the bound that a job works under."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import numpy as np
import pytest

from lanternslide.worker import memory
from lanternslide.worker.memory import SPARE_MIB, bounded, peak_mib

MIB = 2**20
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="only Linux counts what a process allocates for itself")

if sys.platform == "linux":
    import resource


def allocated_mib() -> int:
    """Return what this process has allocated for itself, as Linux counts it (proc(5))."""
    found = re.search(r"VmData:\s+(\d+) kB", Path("/proc/self/status").read_text("ascii"))
    assert found is not None
    return int(found[1]) // 1024


def resident_mib() -> float:
    """Return what of this process is in memory now (proc(5): pages, the second number)."""
    return int(Path("/proc/self/statm").read_text("ascii").split()[1]) * resource.getpagesize() / MIB


def limit() -> tuple[int, int]:
    """Return the soft and the hard limit of this process's own data."""
    return resource.getrlimit(resource.RLIMIT_DATA)


@LINUX
@pytest.mark.parametrize("need", [0.0, 100.0])
def test_a_job_gets_twice_its_estimate_and_some_room(need: float) -> None:
    """What goes beyond that fails in the worker alone, and could not be given back by the system in time."""
    most = int(2 * need + SPARE_MIB)

    with bounded(need):
        np.empty((most - 64) * MIB, np.uint8)
        with pytest.raises(MemoryError):
            np.empty((most + 64) * MIB, np.uint8)
    np.empty((most + 64) * MIB, np.uint8)


@LINUX
def test_the_bound_counts_from_what_the_worker_has_already() -> None:
    """Its libraries are no part of the job."""
    with bounded(50.0):
        assert limit()[0] // MIB == pytest.approx(allocated_mib() + 2 * 50 + SPARE_MIB, abs=16)


@LINUX
def test_the_bound_ends_with_the_job() -> None:
    """However it ends, the next one has a bound of its own."""
    before = limit()

    with pytest.raises(ZeroDivisionError), bounded(10.0):
        _ = 1 / (limit() == before)

    assert limit() == before


def test_other_systems_set_no_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """What cannot be had there is left out; the job runs."""
    monkeypatch.setattr(sys, "platform", "win32")

    with bounded(0.0):
        np.empty((SPARE_MIB + 64) * MIB, np.uint8)
    assert peak_mib() is None


@LINUX
@pytest.mark.parametrize("is_told_by_proc", [True, False])
def test_the_peak_follows_what_was_touched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, is_told_by_proc: bool
) -> None:
    """It is in MiB, and never falls; where there is no /proc the system is asked otherwise."""
    if not is_told_by_proc:
        monkeypatch.setattr(memory, "STATUS", tmp_path / "status")
    before = peak_mib()
    assert before is not None

    taken = np.ones(int(before - resident_mib() + 48) * MIB, np.uint8)
    after = peak_mib()
    del taken

    assert after is not None
    assert before + 40 <= after <= before + 60
    assert peak_mib() == pytest.approx(after, abs=1)
