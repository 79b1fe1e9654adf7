"""How much memory this worker process has used at its most."""

from __future__ import annotations

import sys

__all__ = ["peak_mib"]


def peak_mib() -> float | None:
    """Return the peak resident size of this process in MiB; None where the system does not tell (Windows)."""
    if sys.platform == "win32":
        return None
    import resource  # noqa: PLC0415 - it does not exist on Windows

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return round(peak / (2**20 if sys.platform == "darwin" else 2**10), 1)
