"""What the supervisor is told that started the service: ready, at work, alive, stopping (systemd's sd_notify(3)).

Without a supervisor nothing is told and nothing differs.
"""

from __future__ import annotations

import os
import socket
import sys
import time
from collections.abc import MutableMapping
from typing import Self

__all__ = ["Supervisor"]

BEATS_A_LIMIT = 4
"""Signs of life for each time limit; sd_watchdog_enabled(3) recommends two or more."""


class Supervisor:
    """Sends what sd_notify(3) describes to the socket that the supervisor has named.

    Parameters
    ----------
    address
        The socket's path, or an abstract name that begins with ``@``; empty: nobody listens.
    limit
        Seconds without a sign of life after which the supervisor ends the service; None: it waits for none.
    """

    def __init__(self, address: str = "", limit: float | None = None) -> None:
        # An abstract name begins with a null byte (unix(7)).
        self._address = "\0" + address[1:] if address.startswith("@") else address
        self._pause = None if limit is None or not address else limit / BEATS_A_LIMIT
        self._next_beat = 0.0
        self._status = ""

    @classmethod
    def from_environment(cls, environment: MutableMapping[str, str]) -> Self:
        """Return the supervisor that *environment* names; what names it is taken out, so that no worker answers."""
        address = environment.pop("NOTIFY_SOCKET", "")
        microseconds = environment.pop("WATCHDOG_USEC", "")
        process = environment.pop("WATCHDOG_PID", "")
        is_meant = microseconds.isdigit() and process in ("", str(os.getpid()))
        return cls(address, int(microseconds) / 1e6 if is_meant and int(microseconds) > 0 else None)

    def ready(self) -> None:
        """Say that everything that is dropped from now on is noticed."""
        self._send("READY=1")

    def reloading(self) -> None:
        """Say that the config is being read again; `ready` says when that is done."""
        # The time is what systemd 253 and newer wait for with Type=notify-reload; others leave it alone.
        self._send(f"RELOADING=1\nMONOTONIC_USEC={time.monotonic_ns() // 1000}")

    def stopping(self, seconds: float) -> None:
        """Say that the service stops in order, which may take so many seconds, whatever the unit says."""
        self._send(f"STOPPING=1\nEXTEND_TIMEOUT_USEC={int(seconds * 1e6)}")

    def say(self, status: str) -> None:
        """Have *status*, one line, stand in ``systemctl status``."""
        if status != self._status:
            self._status = status
            self._send(f"STATUS={status}")

    def is_due(self, now: float) -> bool:
        """Return whether a sign of life is due at *now* (monotonic seconds)."""
        return self._pause is not None and now >= self._next_beat

    def beat(self, now: float) -> None:
        """Give a sign of life."""
        if self._pause is not None:
            self._next_beat = now + self._pause
            self._send("WATCHDOG=1")

    def _send(self, message: str) -> None:
        if not self._address or sys.platform == "win32":
            return
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as channel:
            # Never wait: a supervisor that does not read, or has gone, is no reason to stop working.
            channel.setblocking(False)
            try:
                channel.sendto(message.encode(), self._address)
            except OSError:
                # Said again with the next one: a sign of life that gets lost is followed by three others in time.
                self._status = ""
