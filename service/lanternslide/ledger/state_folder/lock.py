"""One service for one state folder."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from types import TracebackType
from typing import IO, Self

from lanternslide.errors import StateLockedError
from lanternslide.ledger.state_folder.unusable import refuse_open, unusable
from lanternslide.records.windows import private_mode

__all__ = ["StateLock", "ask_holder", "holder_of"]

PATIENCE_SECONDS, TRY_SECONDS = 0.5, 0.05
"""Whoever merely asks who holds the folder holds it for a moment; that is waited for."""


class StateLock:
    """Holds a state folder for this process while it is open; the system lets go of it when the process ends."""

    def __init__(self, folder: Path, holder: str, patience: float = PATIENCE_SECONDS) -> None:
        self._file = folder / "lock"
        self._holder = holder
        self._patience = patience
        self._stream: IO[bytes] | None = None

    def __enter__(self) -> Self:
        """Take the lock.

        Raises
        ------
        StateLockedError
            If another process has it.
        StateError
            If the state folder cannot be made or written.
        """
        try:
            self._file.parent.mkdir(mode=private_mode(), parents=True, exist_ok=True)
            refuse_open(self._file.parent)
            stream = self._file.open("a+b", buffering=0)
        except OSError as error:
            raise unusable(self._file.parent, error) from error
        end = time.monotonic() + self._patience
        while not _try_lock(stream):
            if time.monotonic() >= end:
                holder = _holder_in(stream)
                stream.close()
                raise StateLockedError(str(self._file.parent), holder)
            time.sleep(TRY_SECONDS)
        try:
            stream.truncate(0)
            # The first byte is what Windows locks; the rest can be read by others.
            stream.write(f"\n{self._holder}, process {os.getpid()}".encode())
        except OSError as error:  # the disk is full
            stream.close()
            raise unusable(self._file.parent, error) from error
        self._stream = stream
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._stream is not None:
            self._stream.close()
            self._stream = None


def holder_of(folder: Path) -> str | None:
    """Return who is seen to work with a state folder: a command and its process; None if nobody is."""
    try:
        return ask_holder(folder)
    except OSError:  # it is not this user's to ask
        return None


def ask_holder(folder: Path) -> str | None:
    """Return who works with a state folder: a command and its process; None if nobody does.

    Raises
    ------
    OSError
        If that cannot be asked, so that somebody may.
    """
    try:
        stream = (folder / "lock").open("r+b", buffering=0)
    except FileNotFoundError:  # nobody ever did
        return None
    with stream:
        return None if _try_lock(stream) else _holder_in(stream)


def _holder_in(stream: IO[bytes]) -> str:
    stream.seek(1)
    return stream.read(200).decode("utf-8", "replace").strip() or "another lanternslide"


def _try_lock(stream: IO[bytes]) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt  # noqa: PLC0415 - Windows alone has it

            stream.seek(0)
            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl  # noqa: PLC0415 - Windows does not have it

            fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
