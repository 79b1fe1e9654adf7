"""What "auto" means on this machine."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Self

from lanternslide.config.settings import Service

__all__ = ["Limits"]

SETTLE_SECONDS = 2.0
SCAN_SECONDS_WITH_EVENTS = 600.0
SCAN_SECONDS_POLLING = 30.0
JOB_SECONDS = 120.0
JOB_SECONDS_PER_MEGAPIXEL = 2.0
SURVEY_BYTES_A_SECOND = 5e6
"""A share as slow as this is still waited for."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Limits:
    """Numbers and times of the service, "auto" resolved."""

    workers: int
    settle_seconds: float
    scan_seconds: float | None  #: None: what suits events or polling.
    job_seconds: float | None  #: None: by the job's size.
    grace_seconds: float
    attempts: int
    max_megapixels: float

    @classmethod
    def of(cls, service: Service) -> Self:
        """Return the limits that *service* sets."""
        return cls(
            workers=_usable_cores() if service.workers == "auto" else service.workers,
            settle_seconds=SETTLE_SECONDS if service.settle_seconds == "auto" else service.settle_seconds,
            scan_seconds=None if service.scan_seconds == "auto" else service.scan_seconds,
            job_seconds=None if service.job_timeout_seconds == "auto" else service.job_timeout_seconds,
            grace_seconds=service.grace_seconds,
            attempts=service.attempts,
            max_megapixels=service.max_megapixels,
        )

    def survey_timeout(self, size: int) -> float:
        """Return how long the survey of a file of *size* bytes may take, in seconds."""
        return self.job_seconds or JOB_SECONDS + size / SURVEY_BYTES_A_SECOND

    def make_timeout(self, megapixels: float, deliveries: int) -> float:
        """Return how long the deliveries of an original may take, in seconds."""
        return self.job_seconds or JOB_SECONDS + JOB_SECONDS_PER_MEGAPIXEL * megapixels * deliveries

    def scan_pause(self, *, events: bool) -> float:
        """Return how long to wait between two scans, in seconds."""
        return self.scan_seconds or (SCAN_SECONDS_WITH_EVENTS if events else SCAN_SECONDS_POLLING)


def _usable_cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
