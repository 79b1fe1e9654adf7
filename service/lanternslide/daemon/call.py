"""What a worker process runs. It reaches the worker by its dotted name, so that the main process never loads it."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from importlib import import_module
from multiprocessing.connection import wait
from typing import Any

__all__ = ["call", "prepare_worker"]

WORKER = "lanternslide.worker"
ORPHANED = 70
"""Exit status of a worker whose service has died; nobody is left to read it."""


def prepare_worker() -> None:
    """Set a fresh worker process up."""
    # A stop is the main process's to order, not the terminal's.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, name="end with parent", daemon=True).start()


def _end_with_parent() -> None:
    """End this process as soon as the service dies: it must not write where the next one has already swept."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(ORPHANED)


def call(name: str, task: object) -> Any:
    """Return what the worker's function *name* makes of *task*."""
    return getattr(import_module(WORKER), name)(task)
