"""What a worker process runs. It reaches the worker by its dotted name, so that the main process never loads it."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import traceback
from contextlib import suppress
from dataclasses import dataclass
from importlib import import_module
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

from lanternslide.words import named, told

__all__ = ["READY", "TAKEN", "WORKER", "Raised", "Returned", "call", "fault_of", "go_first", "run_worker"]

WORKER = "lanternslide.worker"
"""The module whose `do` a worker runs."""

READY = "ready"
"""What a worker sends once it has loaded everything."""

TAKEN = "taken"
"""What a worker sends once it has a task: from then on its death is the task's failure."""

ORPHANED = 70
"""Exit status of a worker whose service has died; nobody is left to read it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Returned:
    """What a function has returned."""

    value: Any


@dataclass(frozen=True, kw_only=True, slots=True)
class Raised:
    """That a function has failed in a way that nobody foresaw."""

    text: str  #: The exception in one line.
    trace: str  #: Where it came from, for the log.


def run_worker(connection: Connection, module: str) -> None:
    """Do tasks from *connection* as *module* does them, one after the other, until it is closed."""
    # A stop is the main process's to order, not the terminal's.
    for name in ("SIGINT", "SIGBREAK"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    go_first()
    # Libraries look for programs by name: a worker starts none.
    os.environ["PATH"] = os.devnull
    threading.Thread(target=_end_with_parent, name="end with parent", daemon=True).start()
    worker = import_module(module)
    connection.send(READY)
    while True:
        try:
            task = connection.recv()
        except EOFError:
            return
        connection.send(TAKEN)
        connection.send(call(worker.do, task))


def go_first() -> None:
    """Have the system end this process before others when memory runs out: it costs one attempt (proc(5), Linux)."""
    if sys.platform == "linux":
        with suppress(OSError):  # a hardened system may not allow it; the service works all the same
            Path("/proc/self/oom_score_adj").write_text("900", "ascii")


def call(function: Any, task: object) -> Returned | Raised:
    """Return what *function* makes of *task*, or how it has failed."""
    try:
        return Returned(value=function(task))
    except MemoryError:
        return Raised(text="it ran out of the memory that it may take", trace=traceback.format_exc())
    except Exception as error:  # noqa: BLE001 - a fault of the code costs one attempt of one job, and is logged
        return Raised(text=fault_of(error), trace=traceback.format_exc())


def fault_of(error: BaseException) -> str:
    """Return what is said of an *error* that nobody foresaw: what the system refuses, or else a fault of ours."""
    if isinstance(error, OSError) and error.strerror:
        return told(error)
    return f"a fault in lanternslide itself, {named(error)}"


def _end_with_parent() -> None:
    """End this process as soon as the service dies: it must not write where the next one has already swept."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(ORPHANED)
