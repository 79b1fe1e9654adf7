"""Functions for a worker that behave as no worker should."""

from __future__ import annotations

import os
import signal
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lanternslide.records import Job, JobDone, Made
from lanternslide.worker.memory import bounded

__all__ = ["Misbehave", "do"]


@dataclass(frozen=True)
class Misbehave:
    """What a worker is to do."""

    function: str  #: One of those below.
    argument: object


def do(task: Misbehave | Job) -> Any:
    """Do it; a job is done slowly."""
    if isinstance(task, Job):
        return write_slowly(task)
    return globals()[task.function](task.argument)


def double(number: int) -> int:
    """Return twice *number*."""
    return 2 * number


def pid(_task: object) -> int:
    """Return the worker's process number."""
    return os.getpid()


def hang(_task: object) -> None:
    """Never return."""
    while True:
        time.sleep(1)


def hang_with_number(_task: object) -> None:
    """Never return, and leave the process number where $LANTERNSLIDE_HANGING says."""
    (Path(os.environ["LANTERNSLIDE_HANGING"]) / str(os.getpid())).touch()
    hang(_task)


def pause(seconds: float) -> float:
    """Return after so many *seconds*, and leave a mark at the beginning where $LANTERNSLIDE_HANGING says."""
    (Path(os.environ["LANTERNSLIDE_HANGING"]) / f"paused {time.monotonic_ns()}").touch()
    time.sleep(seconds)
    return seconds


def crash(number: int) -> None:
    """End the process by signal *number*, as native code or the system does."""
    os.kill(os.getpid(), number)
    signal.pause()


def fail(text: str) -> None:
    """Raise what nobody foresaw."""
    raise LookupError(text)


def allocate(mib: int) -> int:
    """Take so many MiB in a job that was admitted with 1."""
    with bounded(1):
        return len(bytearray(mib * 2**20))


def write_slowly(job: Job) -> JobDone:
    """Leave a mark, write the worker's number where the delivery is to be, bit by bit, and return the number of bytes.

    Its first run takes four seconds, and later ones none.
    """
    folder = Path(os.environ["LANTERNSLIDE_HANGING"])
    is_first = not list(folder.glob("wrote *"))
    (folder / f"wrote {os.getpid()}").touch()
    (delivery,) = job.deliveries
    data = str(os.getpid()).encode() + b"\n"
    with delivery.temporary.open("wb") as stream:
        for _ in range(20):
            stream.write(data)
            stream.flush()
            time.sleep(0.2 if is_first else 0.0)
    (folder / f"written {os.getpid()}").touch()
    made = Made(delivery=delivery.delivery, bytes=20 * len(data), digest="", figures=None, findings=())  # type: ignore[arg-type]
    return JobDone(outcomes=(made,))
