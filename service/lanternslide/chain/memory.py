"""How much memory a job will need; pure."""

from __future__ import annotations

from collections.abc import Sequence

from lanternslide.chain.plan import Plan
from lanternslide.imaging.reading.source import BAND_ROWS, Header
from lanternslide.imaging.resample import GATHERED_ROWS

__all__ = ["estimated_mib"]

MIB = 2**20

LOADED_MIB = 100
"""A worker with everything loaded, its tables and what the libraries keep for themselves."""

PLANE = 4
"""Bytes of a float32."""

SPARE = 1.15
"""What the allocator and the libraries take on top, at the widest panoramas (measured)."""

FINISHING = 30
"""Bytes for each final pixel while it is sharpened, encoded and measured: lightness, detail, codes, the JPEG's own."""


def estimated_mib(header: Header, plans: Sequence[Plan]) -> float:
    """Return the peak memory in MiB of a worker that makes *plans* of an original.

    It is meant to be a little too high; `tests/benchmarks/memory.py` prints it beside real peaks. Rungs and buffers are
    counted from their sizes, what a reader holds whole is its own word (`Header.held_bytes`).
    """
    width, channels = header.stored_width, min(header.channels, 3)
    row = width * channels * PLANE
    # Bands as stored, split into planes, and in linear light.
    needed = header.held_bytes + BAND_ROWS * (2 * row + 3 * width * header.channels * header.bits // 8)
    finishing = 0
    for plan in plans:
        for index, rung in enumerate(plan.rungs):
            pixels = rung.width * rung.height
            kernels = 2 if index == 0 else 1
            # Down: rows that a band reaches; across: rows that wait; and the planes themselves.
            ratio = max(header.width / rung.width, 1)
            needed += int(kernels * (BAND_ROWS / ratio + 6 + GATHERED_ROWS) * row)
            needed += kernels * pixels * channels * PLANE
            turned = header.turned and index == len(plan.rungs) - 1
            resized = 2 * pixels * channels * PLANE if index or turned else 0
            finishing = max(finishing, pixels * FINISHING + resized)
    return LOADED_MIB + (SPARE * needed + finishing) / MIB
