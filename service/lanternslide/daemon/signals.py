"""Signals, as messages for the main loop."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from lanternslide.daemon.inbox import Inbox, Reload, Stop

__all__ = ["signals_into"]

STOPS = [number for number in signal.Signals if number.name in {"SIGTERM", "SIGINT", "SIGBREAK"}]
"""SIGBREAK is what a Windows console sends for Ctrl-Break, and before it closes."""


@contextmanager
def signals_into(inbox: Inbox) -> Iterator[None]:
    """While open, have signals leave messages in *inbox*: `STOPS` to stop, SIGHUP to read the config."""

    # Nothing but this: a handler runs between any two instructions.
    def stop(_number: int, _frame: FrameType | None) -> None:
        inbox.put(Stop())

    def reload(_number: int, _frame: FrameType | None) -> None:
        inbox.put(Reload())

    before = {number: signal.signal(number, stop) for number in STOPS}
    if hasattr(signal, "SIGHUP"):  # Windows has no such signal
        before[signal.SIGHUP] = signal.signal(signal.SIGHUP, reload)
    if hasattr(signal, "SIGIO"):
        # Sent when a program opens a file for writing in the moment of asking whether one has (fcntl(2), leases).
        before[signal.SIGIO] = signal.signal(signal.SIGIO, signal.SIG_IGN)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
