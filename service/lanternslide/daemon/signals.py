"""Signals, as mail for the main loop."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from lanternslide.daemon.mail import Mailbox, Stop

__all__ = ["stop_on_signals"]

STOPS = (signal.SIGTERM, signal.SIGINT)


@contextmanager
def stop_on_signals(mailbox: Mailbox) -> Iterator[None]:
    """While open, have SIGTERM and SIGINT leave a request to stop in *mailbox*."""

    def handle(_number: int, _frame: FrameType | None) -> None:
        # Nothing but this: a handler runs between any two instructions.
        mailbox.put(Stop())

    before = {number: signal.signal(number, handle) for number in STOPS}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
