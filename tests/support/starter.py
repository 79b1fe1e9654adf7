"""Starts commands of lanternslide by forking a process that has loaded it already: each half a second sooner.

It is a process of its own, with its own streams, folder, environment, signals and workers. Unlike those of a fresh
interpreter, it shares one hash seed with all others, variables that Python reads at its start have no effect, and
`/proc` shows the other process's command line. Tests of the start itself (`-m`, an entry point, another user, a
terminal) start an interpreter instead.
"""

from __future__ import annotations

import atexit
import functools
import json
import os
import select
import socket
import subprocess
import sys
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import IO

__all__ = ["CAN_FORK", "Started", "start"]

ROOT = Path(__file__).resolve().parents[2]
CAN_FORK = sys.platform == "linux"
"""Elsewhere commands are started by an interpreter of their own."""


class Started:
    """A command that was started, with what tests use of `subprocess.Popen`."""

    def __init__(self, news: int) -> None:
        self._news = os.fdopen(news, "rb", buffering=0)
        self.returncode: int | None = None
        told = self._read()
        assert told is not None, "the process that starts commands has ended"
        self.pid = told

    def _read(self) -> int | None:
        line = b""
        while not line.endswith(b"\n"):
            more = self._news.read(1)
            if not more:
                return None
            line += more
        return int(line)

    def poll(self) -> int | None:
        """Return the exit status, minus the number of the signal that ended it, or None while it runs."""
        return self._look(0.0)

    def wait(self, timeout: float | None = None) -> int:
        """Wait for the end and return the exit status.

        Raises
        ------
        subprocess.TimeoutExpired
            If it does not end in time.
        """
        status = self._look(timeout)
        if status is None:
            raise subprocess.TimeoutExpired(f"lanternslide, process {self.pid}", timeout or 0.0)
        return status

    def _look(self, timeout: float | None) -> int | None:
        if self.returncode is None and select.select([self._news], [], [], timeout)[0]:
            self.returncode = self._read()
            assert self.returncode is not None, "the process that starts commands has ended"
            self._news.close()
        return self.returncode

    def send_signal(self, number: int) -> None:
        """Send a signal, unless it has ended."""
        if self.poll() is None:
            with suppress(ProcessLookupError):
                os.kill(self.pid, number)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(15)

    def kill(self) -> None:
        """End it at once."""
        self.send_signal(9)


def start(
    arguments: Sequence[str],
    *,
    environment: Mapping[str, str],
    folder: Path | None = None,
    output: IO[bytes] | IO[str] | None = None,
    errors: IO[bytes] | IO[str] | None = None,
) -> Started:
    """Start ``lanternslide ARGUMENTS`` in *folder*, without input; what streams are not given are this process's."""
    request = {"arguments": list(arguments), "environment": dict(environment), "folder": str(folder or Path.cwd())}
    news, theirs = os.pipe()
    try:
        with Path(os.devnull).open("rb") as nothing:
            streams = [nothing.fileno(), output.fileno() if output else 1, errors.fileno() if errors else 2]
            socket.send_fds(_server(), [json.dumps(request).encode()], [*streams, theirs])
    finally:
        os.close(theirs)
    return Started(news)


@functools.cache
def _server() -> socket.socket:
    """Return the connection to the process that forks; it ends with this one."""
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.support.starter_server", str(theirs.fileno())],
        cwd=ROOT, pass_fds=[theirs.fileno()], stdin=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": f"{ROOT / 'service'}{os.pathsep}{ROOT}", "PYTHONWARNINGS": "default"},
    )  # fmt: skip
    theirs.close()

    def end() -> None:
        ours.close()
        process.wait(10)

    atexit.register(end)
    return ours
