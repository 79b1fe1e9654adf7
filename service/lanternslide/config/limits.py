"""What "auto" means on this machine."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from typing import Self

from lanternslide.config.machine import memory_bytes, usable_cores
from lanternslide.config.settings import Service

__all__ = ["LOADED_MIB", "Limits", "share_of_memory"]

LOADED_MIB = 100.0
"""What a worker takes that has everything loaded and nothing to do, MiB."""

SETTLE_SECONDS = 2.0
SETTLE_SECONDS_ON_SHARES = 10.0
SWEEP_SETTLES = 30.0
SWEEP_PATIENCE = 10.0
"""A sweep waits so many times as long as a file must stay as it is, at least so many seconds, and then leaves it."""
SCAN_SECONDS_WITH_EVENTS = 600.0
SCAN_SECONDS_POLLING = 30.0
JOB_SECONDS = 120.0
JOB_SECONDS_PER_MEGAPIXEL = 2.0
MOST_WORKERS_ON_WINDOWS = 60
"""Windows waits for 63 things at once (Python documentation, `ProcessPoolExecutor`, allows 61 workers)."""
SURVEY_BYTES_A_SECOND = 5e6
"""A share as slow as this is still waited for."""


def share_of_memory(service: Service, services: int = 1) -> int:
    """Return how many bytes the workers of each of so many services may take together."""
    return memory_bytes(services) if service.memory == "auto" else service.memory // services


@dataclass(frozen=True, kw_only=True, slots=True)
class Limits:
    """Numbers and times of the service, "auto" resolved."""

    workers: int
    memory_mib: float  #: For all workers together.
    settling_seconds: float | None  #: None: what suits a local disk or a share.
    scan_seconds: float | None  #: None: what suits events or polling.
    job_seconds: float | None  #: None: by the job's size.
    grace_seconds: float
    attempts: int
    max_megapixels: float

    @classmethod
    def of(cls, service: Service) -> Self:
        """Return the limits that *service* sets."""
        budget = share_of_memory(service) / 2**20
        workers = usable_cores() if service.workers == "auto" else service.workers
        if sys.platform == "win32":
            workers = min(workers, MOST_WORKERS_ON_WINDOWS)
        return cls(
            # Workers that merely wait leave at least half of the budget to pictures.
            workers=max(1, min(workers, int(budget / 2 / LOADED_MIB))),
            memory_mib=budget,
            settling_seconds=None if service.settle_seconds == "auto" else service.settle_seconds,
            scan_seconds=None if service.scan_seconds == "auto" else service.scan_seconds,
            job_seconds=None if service.job_timeout_seconds == "auto" else service.job_timeout_seconds,
            grace_seconds=service.grace_seconds,
            attempts=service.attempts,
            max_megapixels=service.max_megapixels,
        )

    def memory_for(self, service: Service) -> object:
        """Return what decides whether a picture is held for want of memory."""
        return (self.memory_mib, self.workers) if service.executor == "local" else service.executor

    def settle_seconds(self, *, remote: bool) -> float:
        """Return how long a file must stay as it is before it is read, in seconds."""
        return self.settling_seconds or (SETTLE_SECONDS_ON_SHARES if remote else SETTLE_SECONDS)

    def sweep_patience(self) -> float:
        """Return how long a sweep waits for a file that is still being written, in seconds."""
        return max(SWEEP_SETTLES * self.settle_seconds(remote=True), SWEEP_PATIENCE)

    def survey_timeout(self, size: int) -> float:
        """Return how long the survey of a file of *size* bytes may take, in seconds."""
        return self.job_seconds or JOB_SECONDS + size / SURVEY_BYTES_A_SECOND

    def make_timeout(self, megapixels: float, deliveries: int) -> float:
        """Return how long the deliveries of an original may take, in seconds."""
        return self.job_seconds or JOB_SECONDS + JOB_SECONDS_PER_MEGAPIXEL * megapixels * deliveries

    def scan_pause(self, *, events: bool) -> float:
        """Return how long to wait between two scans, in seconds."""
        return self.scan_seconds or (SCAN_SECONDS_WITH_EVENTS if events else SCAN_SECONDS_POLLING)
