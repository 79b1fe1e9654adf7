"""What may hang is done in a thread of its own."""

from __future__ import annotations

import asyncio
import threading
import time
from pathlib import Path

import pytest

from lanternslide.workers.cluster.in_thread import aside


def test_what_hangs_keeps_nobody(tmp_path: Path) -> None:
    """A thread that never ends neither keeps the loop from closing nor the process."""
    never = threading.Event()

    async def wait() -> None:
        with pytest.raises(asyncio.TimeoutError):
            await asyncio.wait_for(aside(never.wait), 0.1)
        assert await aside(lambda: 3) == 3
        with pytest.raises(FileNotFoundError):
            await aside((tmp_path / "none").read_bytes)

    started = time.monotonic()
    asyncio.run(wait())
    assert time.monotonic() - started < 10
    never.set()
