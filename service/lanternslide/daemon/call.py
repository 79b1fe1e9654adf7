"""What a worker process runs. It reaches the worker by its dotted name, so that the main process never loads it."""

from __future__ import annotations

import signal
from importlib import import_module
from typing import Any

__all__ = ["call", "prepare_worker"]

WORKER = "lanternslide.worker"


def prepare_worker() -> None:
    """Set a fresh worker process up: a stop is the main process's to order, not the terminal's."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def call(name: str, task: object) -> Any:
    """Return what the worker's function *name* makes of *task*."""
    return getattr(import_module(WORKER), name)(task)
