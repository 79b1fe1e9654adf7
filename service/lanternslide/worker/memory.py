"""How much memory this worker process has used at its most."""

from __future__ import annotations

import re
import sys
from pathlib import Path

__all__ = ["peak_mib"]

STATUS = Path("/proc/self/status")
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
