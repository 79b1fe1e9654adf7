"""The log as a file of bounded size, for a service that has no error stream."""

from __future__ import annotations

import io
from contextlib import suppress
from pathlib import Path

__all__ = ["LOG_FILE", "LogFile"]

LOG_FILE = "log.jsonl"
MOST_BYTES = 5_000_000
"""Some ten thousand deliveries."""
KEPT = 3
"""Former files that are kept: ``log.jsonl.1`` is the newest."""


class LogFile(io.TextIOBase):
    """Takes what is written to the end of a file, and begins a new one where that has become large.

    What cannot be written is lost: a log must not stop the service, and a full disk stops its ledger, which says so.
    """

    def __init__(self, path: Path, most: int = MOST_BYTES) -> None:
        self._path = path
        self._most = most
        self._stream = self._open()

    def _open(self) -> io.TextIOWrapper:
        return self._path.open("a", encoding="utf-8", errors="backslashreplace")

    def write(self, text: str) -> int:
        """Write *text*, which ends with its line; return its length."""
        with suppress(OSError):
            if self._stream.closed:  # it could not be opened anew
                self._stream = self._open()
            if self._stream.tell() >= self._most:
                self._turn_over()
            self._stream.write(text)
            self._stream.flush()
        return len(text)

    def writable(self) -> bool:
        """Return that it may be written to."""
        return True

    def close(self) -> None:
        """Close the file."""
        with suppress(OSError):
            self._stream.close()
        super().close()

    def _turn_over(self) -> None:
        """Give every file the next number; the last one goes."""
        self._stream.close()
        with suppress(OSError):  # somebody has one of them open, on Windows; it grows until that is over
            for number in range(KEPT - 1, 0, -1):
                if self._numbered(number).exists():
                    self._numbered(number).replace(self._numbered(number + 1))
            self._path.replace(self._numbered(1))
        self._stream = self._open()

    def _numbered(self, number: int) -> Path:
        return self._path.with_name(f"{self._path.name}.{number}")
