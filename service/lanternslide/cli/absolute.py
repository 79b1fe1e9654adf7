"""Paths as the service will understand them."""

from __future__ import annotations

import os
from pathlib import Path

__all__ = ["absolute"]


def absolute(path: Path) -> str:
    """Return a path whole, wherever the service runs; links are not resolved."""
    return os.path.abspath(path)  # noqa: PTH100 - Path.absolute keeps `..`
