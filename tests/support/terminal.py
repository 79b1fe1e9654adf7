"""A command of lanternslide on a terminal of its own: a pseudo-terminal, 80 columns wide."""

from __future__ import annotations

import os
import re
import select
import struct
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.support.service import PATIENCE, SERVICE

__all__ = ["CTRL_C", "CTRL_D", "Terminal"]

CTRL_C, CTRL_D = b"\x03", b"\x04"
STYLES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")
ROWS, COLUMNS = 50, 80
AGAIN_SECONDS = 2.0
"""After so long a key is pressed again."""

START = """
import fcntl, runpy, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
runpy.run_module("lanternslide", run_name="__main__")
"""
"""Makes the terminal the process's own, so that Ctrl-C reaches it, and becomes the command."""


class Terminal:
    """Runs ``lanternslide ARGUMENTS`` in *folder*, reads what it shows and types what a person would."""

    def __init__(self, folder: Path, *arguments: str) -> None:
        self.output = ""
        self._raw = b""
        self._read_up_to = 0
        self._is_open = True
        pty = pytest.importorskip("pty", reason="needs a pseudo-terminal, which this system has not")
        fcntl, termios = pytest.importorskip("fcntl"), pytest.importorskip("termios")
        self._terminal, inner = pty.openpty()
        fcntl.ioctl(inner, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        environment = {**os.environ, "PYTHONPATH": str(SERVICE), "TERM": "xterm", "LC_ALL": "C.UTF-8"}
        environment.pop("COLUMNS", None)
        self._process = subprocess.Popen(
            [sys.executable, "-c", START, *arguments],
            cwd=folder, env=environment, stdin=inner, stdout=inner, stderr=inner, start_new_session=True,
        )  # fmt: skip
        os.close(inner)

    def until(self, text: str) -> None:
        """Wait until *text* is shown, after what was waited for before; line ends count as spaces.

        Raises
        ------
        AssertionError
            If the command ends or takes too long.
        """
        pattern = re.compile(r"\s+".join(map(re.escape, text.split())))
        end = time.monotonic() + PATIENCE
        while (found := pattern.search(self.output, self._read_up_to)) is None:
            assert time.monotonic() < end, f"{text!r} was not shown: {self.output}"
            assert self._read(), f"it ended before it showed {text!r}: {self.output}"
        self._read_up_to = found.end()

    def type(self, keys: str | bytes) -> None:
        """Type *keys*; a text is followed by Enter."""
        data = f"{keys}\n".encode() if isinstance(keys, str) else keys
        while data:
            data = data[os.write(self._terminal, data) :]

    def answer(self, question: str, answer: str | bytes) -> None:
        """Wait for a question and answer it."""
        self.until(question)
        self.type(answer)

    def stop(self, key: bytes) -> int:
        """Press *key* until the command ends, as a person does, and return the exit status.

        A signal that comes just before a program begins to read is noticed by Python with the next one only.
        """
        end = time.monotonic() + PATIENCE
        self.type(key)
        while self._is_open:
            assert time.monotonic() < end, f"it does not stop: {self.output}"
            if select.select([self._terminal], [], [], AGAIN_SECONDS)[0]:
                self._read()
            else:
                self.type(key)
        return self.status()

    def status(self) -> int:
        """Wait for the end and return the exit status."""
        while self._read():
            pass
        return self._process.wait(PATIENCE)

    def end(self) -> None:
        """Kill the command if it still runs."""
        if self._process.poll() is None:
            self._process.kill()
        self.status()

    def _read(self) -> bool:
        """Take in what is shown within a while; return False at the end."""
        if not self._is_open:
            return False
        ready, _, _ = select.select([self._terminal], [], [], PATIENCE)
        assert ready, f"nothing more is shown: {self.output}"
        try:
            data = os.read(self._terminal, 65536)
        except OSError:  # what Linux answers once the other end is closed
            data = b""
        self._raw += data
        self.output = STYLES.sub("", self._raw.decode("utf-8", "replace")).replace("\r\n", "\n")
        if not data:
            os.close(self._terminal)
            self._is_open = False
        return self._is_open
