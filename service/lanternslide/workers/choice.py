"""Which executor a config asks for."""

from __future__ import annotations

from lanternslide.config import Settings
from lanternslide.config.limits import Limits
from lanternslide.workers.executor import Executor, Tell
from lanternslide.workers.pool import Pool

__all__ = ["executor_for"]


def executor_for(settings: Settings, limits: Limits, ledger: str, tell: Tell) -> Executor:
    """Return what does the work: processes of this machine, or a cluster's workers.

    Parameters
    ----------
    ledger
        What the ledger is called; temporary files carry it.
    tell
        Hears when nothing can be done, and when work goes on.
    """
    if settings.service.executor == "local":
        return Pool(limits.workers, tell, memory_mib=limits.memory_mib)
    # What a cluster needs is an extra, and is loaded only where the config asks for it; its check has looked for it.
    from lanternslide.workers.cluster import Cluster  # noqa: PLC0415

    return Cluster(settings, ledger, tell)
