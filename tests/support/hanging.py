"""A share whose server hangs, for what asks about folders in this process."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

__all__ = ["DEADLINE", "Share"]

DEADLINE = 0.5
"""Seconds that a probe of these tests waits: far more than a folder takes that answers."""


class Share:
    """Folders that the system does not answer about until their server is back."""

    def __init__(self) -> None:
        self._hung: list[Path] = []
        self._back = threading.Event()
        self.asked: list[Path] = []  #: Every folder that was asked about.

    def hang(self, folder: Path) -> None:
        """Have *folder* and all below it hang from now on."""
        self._back.clear()
        self._hung.append(folder)

    def come_back(self) -> None:
        """Have everything answer again, also what was asked before."""
        self._hung.clear()
        self._back.set()

    @classmethod
    @contextmanager
    def made(cls) -> Iterator[Share]:
        """Return one, in place of the system's own listing of folders; nothing hangs at first, or in the end."""
        share, scandir = cls(), os.scandir

        def asked(path: Any) -> Any:
            folder = Path(os.fsdecode(path))
            share.asked.append(folder)
            if any(folder.is_relative_to(hung) for hung in share._hung):
                share._back.wait()
            return scandir(path)

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(os, "scandir", asked)
            try:
                yield share
            finally:
                share.come_back()
