"""How much memory this worker process has used at its most, and how much more it may take."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["bounded", "peak_mib"]

STATUS = Path("/proc/self/status")
DATA = re.compile(r"^VmData:\s+(\d+) kB$", re.MULTILINE)
PEAK = re.compile(r"^VmHWM:\s+(\d+) kB$", re.MULTILINE)


def peak_mib() -> float | None:
    """Return the peak resident size of this process in MiB; None where the system does not tell (Windows)."""
    if sys.platform == "win32":
        return None
    # On Linux getrusage counts what the process was before it became this program: its parent's memory, as forked.
    if STATUS.is_file() and (found := PEAK.search(STATUS.read_text("ascii"))):
        return round(int(found[1]) / 2**10, 1)
    import resource  # noqa: PLC0415 - it does not exist on Windows

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return round(peak / (2**20 if sys.platform == "darwin" else 2**10), 1)


SPARE_MIB = 512
"""What a job may take beyond twice its estimate: libraries reserve in large pieces."""


@contextmanager
def bounded(need_mib: float) -> Iterator[None]:
    """While open, let allocations fail (MemoryError) that go far beyond the *need_mib* that a job was admitted with.

    Linux counts what a process allocates for itself, not files that it maps, against RLIMIT_DATA (setrlimit(2)). Other
    systems set no limit here.
    """
    found = DATA.search(STATUS.read_text("ascii")) if STATUS.is_file() else None
    if sys.platform != "linux" or found is None:
        yield
        return
    import resource  # noqa: PLC0415 - it does not exist on Windows

    before = resource.getrlimit(resource.RLIMIT_DATA)
    most = int(found[1]) * 2**10 + int(2 * need_mib + SPARE_MIB) * 2**20
    if before[1] != resource.RLIM_INFINITY:
        most = min(most, before[1])
    resource.setrlimit(resource.RLIMIT_DATA, (most, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_DATA, before)
