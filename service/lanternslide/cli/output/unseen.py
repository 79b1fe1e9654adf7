"""Words that no terminal takes: a service that Windows starts without a console has no error stream at all.

Source: Python documentation, `sys.__stderr__`: "can be None".
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from io import TextIOWrapper
from pathlib import Path

import platformdirs

from lanternslide.records.windows import private_mode
from lanternslide.report.logfile import LOG_FILE, LogFile

__all__ = ["delete_error", "error_file", "error_stream_in", "leave_error", "take_every_letter"]

ERROR_FILE = "error.txt"


@contextmanager
def error_stream_in(folder: Path) -> Iterator[None]:
    """While open, have what goes to the error stream stand in a file in *folder*, if there is no such stream."""
    if sys.stderr is not None:
        yield
        return
    sys.stderr = log = LogFile(folder / LOG_FILE)
    try:
        yield
    finally:
        sys.stderr = None
        log.close()


def leave_error(text: str, folder: Path | None = None) -> None:
    """Leave the words with which a command ends in a file, if there is no error stream to say them on.

    It is the last error alone, with its date, in the user's state folder (*folder*): the config that names another may
    be what is wrong.
    """
    if sys.stderr is not None:
        return
    file = error_file(folder)
    with suppress(OSError):  # nobody is left to be told; the exit status says that something was wrong
        file.parent.mkdir(mode=private_mode(), parents=True, exist_ok=True)
        now = datetime.now().astimezone().isoformat(" ", "seconds")
        file.write_text(f"{now}\n{text}\n", "utf-8", "backslashreplace")


def delete_error(folder: Path | None = None) -> None:
    """Delete what `leave_error` has left: the service has started well since."""
    with suppress(OSError):  # somebody reads it; the next start deletes it, and its date says how old it is
        error_file(folder).unlink(missing_ok=True)


def error_file(folder: Path | None = None) -> Path:
    """Return where `leave_error` leaves words: in the user's state folder, or in *folder*."""
    return (folder or Path(platformdirs.user_state_dir("lanternslide"))) / ERROR_FILE


def take_every_letter() -> None:
    """Have letters that a terminal's or a pipe's old code page does not know be written as escapes, not as errors.

    Where there is no output at all, what is written there goes nowhere.
    """
    if sys.stdout is None:
        sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 - open as long as the process is
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper) and stream.errors == "strict":
            stream.reconfigure(errors="backslashreplace")
