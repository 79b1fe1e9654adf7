"""What may hang, in a thread of its own: a share that does not answer keeps nobody from going on, or from closing."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import TypeVar

__all__ = ["aside"]

Found = TypeVar("Found")


async def aside(function: Callable[..., Found], *args: object) -> Found:
    """Return what *function* returns; it goes on by itself where nobody waits for it any more.

    The threads of `asyncio.to_thread` are few, and whoever closes the loop waits for them (Python documentation,
    `loop.shutdown_default_executor`); the end of the process waits for them as well.
    """
    found: Future[Found] = Future()
    found.set_running_or_notify_cancel()  # so that it cannot be cancelled, and is always answered

    def find() -> None:
        try:
            value = function(*args)
        except BaseException as error:  # noqa: BLE001 - it is raised to whoever waits
            found.set_exception(error)
        else:
            found.set_result(value)

    threading.Thread(target=find, name="aside", daemon=True).start()
    return await asyncio.wrap_future(found)
