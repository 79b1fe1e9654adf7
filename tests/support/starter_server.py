"""The process that forks for `starter`: it has loaded what a command needs, and begins each command as ``-m`` would.

It runs no thread, which is asserted, and opens nothing of the project's: a fork of it is what a fresh interpreter is
after its imports.
"""

from __future__ import annotations

import json
import os
import runpy
import select
import signal
import socket
import sys
import threading
import time
from contextlib import suppress
from importlib import import_module
from typing import Any

LONGEST_REQUEST = 200_000
"""Bytes; a request holds an environment."""

HANDLED = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGCHLD, signal.SIGUSR1, signal.SIGUSR2)


def serve(requests: socket.socket) -> tuple[dict[str, Any], list[int]] | None:
    """Fork for each request and tell how the fork ended; return the request in the fork, and None at the end."""
    reader, writer = os.pipe()
    os.set_blocking(writer, False)
    signal.set_wakeup_fd(writer)
    signal.signal(signal.SIGCHLD, lambda *_: None)  # so that the wake-up is written
    told: dict[int, int] = {}
    while True:
        ready, _, _ = select.select([requests.fileno(), reader], [], [])
        if reader in ready:
            os.read(reader, 4096)
        _tell_ends(told)
        if requests.fileno() not in ready:
            continue
        data, fds, _, _ = socket.recv_fds(requests, LONGEST_REQUEST, 4)
        if not data:
            return None
        pid = os.fork()
        if pid == 0:
            signal.set_wakeup_fd(-1)
            for number in (*told.values(), fds[-1], reader, writer):
                os.close(number)
            return json.loads(data), fds[:-1]
        for number in fds[:-1]:
            os.close(number)
        told[pid] = fds[-1]
        _tell(fds[-1], pid)


def _tell_ends(told: dict[int, int]) -> None:
    for pid in list(told):
        ended, status = os.waitpid(pid, os.WNOHANG)
        if ended:
            _tell(told[pid], os.waitstatus_to_exitcode(status))
            os.close(told.pop(pid))


def _tell(to: int, number: int) -> None:
    with suppress(BrokenPipeError):  # who asked has ended
        os.write(to, f"{number}\n".encode())


def become(request: dict[str, Any], fds: list[int]) -> None:
    """Take over the request's streams, folder and environment, as a new process would find them."""
    for name in HANDLED:
        signal.signal(name, signal.SIG_DFL)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    for number, given in enumerate(fds):
        os.dup2(given, number)
        os.close(given)
    os.chdir(request["folder"])
    os.environ.clear()
    os.environ.update(request["environment"])
    time.tzset()
    sys.stdin = os.fdopen(0, encoding="utf-8", closefd=False)
    sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
    sys.stderr = os.fdopen(2, "w", encoding="utf-8", errors="backslashreplace", buffering=1, closefd=False)
    sys.__stdin__, sys.__stdout__, sys.__stderr__ = sys.stdin, sys.stdout, sys.stderr  # type: ignore[misc]
    sys.argv = ["lanternslide", *request["arguments"]]


if __name__ == "__main__":
    import_module("lanternslide.cli.main")

    assert threading.active_count() == 1, "a fork would copy one thread of several"
    with socket.socket(fileno=int(sys.argv[1])) as connection:
        asked = serve(connection)
    if asked is not None:
        become(*asked)
        runpy.run_module("lanternslide", run_name="__main__", alter_sys=True)
