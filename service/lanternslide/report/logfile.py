"""The log as a file of bounded size, for a service that has no error stream."""

from __future__ import annotations

import io
import logging
from contextlib import suppress
from logging.handlers import RotatingFileHandler
from pathlib import Path

__all__ = ["LOG_FILE", "LogFile"]

LOG_FILE = "log.jsonl"
MOST_BYTES = 5_000_000
"""Some ten thousand deliveries."""
KEPT = 3
"""Former files that are kept: ``log.jsonl.1`` is the newest."""


class LogFile(io.TextIOBase):
    """A stream whose text goes to the end of a file; one that would become too large is put aside first.

    What cannot be written is lost: a log must not stop the service, and a full disk stops its ledger, which says so.
    """

    def __init__(self, path: Path, most: int = MOST_BYTES) -> None:
        self._handler = _Handler(path, maxBytes=most, backupCount=KEPT, encoding="utf-8", errors="backslashreplace")
        self._handler.terminator = ""

    def write(self, text: str) -> int:
        """Write *text*, which ends with its line; return its length."""
        self._handler.handle(logging.makeLogRecord({"msg": text}))
        return len(text)

    def writable(self) -> bool:
        """Return that it may be written to."""
        return True

    def close(self) -> None:
        """Close the file."""
        with suppress(OSError):
            self._handler.close()
        super().close()


class _Handler(RotatingFileHandler):
    """The standard library's handler, for a file that somebody may have open (Windows) and a disk that may fail."""

    def doRollover(self) -> None:
        """Begin anew; where the file cannot be put aside it grows, and the former ones stay."""
        if self.stream is not None:
            with suppress(OSError):  # what it could not write any more is lost
                self.stream.close()
        self.stream = None  # it is opened with the next line
        with suppress(OSError):
            self._check_that_it_moves()
            super().doRollover()

    def _check_that_it_moves(self) -> None:
        aside = Path(f"{self.baseFilename}.0")
        Path(self.baseFilename).rename(aside)
        aside.rename(self.baseFilename)

    def handleError(self, record: logging.LogRecord) -> None:
        """Lose *record*."""
