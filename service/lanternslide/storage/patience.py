"""Waiting a moment for a file that another program has open: on Windows nothing may be renamed onto it, or deleted."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import ParamSpec, TypeVar

__all__ = ["patiently"]

Given = ParamSpec("Given")
Found = TypeVar("Found")

TRIES, PAUSE_SECONDS = 6, 0.1
"""Scanners for viruses and sync programs look into every new file, mostly for less than half a second."""


def patiently(act: Callable[Given, Found], *given: Given.args, **named: Given.kwargs) -> Found:
    """Return what *act* returns; on Windows it is tried again for a moment where the system does not permit it.

    Raises
    ------
    OSError
        What *act* raises at last.
    """
    for _ in range(TRIES - 1 if sys.platform == "win32" else 0):
        try:
            return act(*given, **named)
        except PermissionError:  # of a file in use, too (system errors 5, 32 and 33)
            time.sleep(PAUSE_SECONDS)
    return act(*given, **named)
