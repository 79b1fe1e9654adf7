"""Killing the service at a named step, and what is left of it afterwards."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
from contextlib import closing
from dataclasses import dataclass
from functools import cache

from tests.support.service import Home, run

__all__ = ["Step", "can_trace", "ledger_of", "leftovers", "sweep_killed_at"]


@dataclass(frozen=True)
class Step:
    """A system call, and the how many-th of a process: the moment before it takes effect."""

    call: str
    nth: int

    def __str__(self) -> str:
        return f"{self.call} {self.nth}"


@cache
def can_trace() -> bool:
    """Return whether strace is there and may trace, which is how a process is killed at a chosen system call."""
    if shutil.which("strace") is None:
        return False
    command = ["strace", "-f", "--seccomp-bpf", "-o", "/dev/null", "-e", "trace=fsync", "true"]
    return subprocess.run(command, capture_output=True, check=False).returncode == 0


def sweep_killed_at(home: Home, step: Step, *arguments: str) -> bool:
    """Sweep, and kill the process that comes to *step* before the system does what it asks for; return whether one did.

    In the service's own process that ends the sweep; in a worker's it costs an attempt.
    """
    trace = home.root / "trace"
    before = (
        "strace", "-f", "--seccomp-bpf", "-qq", "-o", str(trace), "-e", f"trace={step.call}",
        "-e", f"inject={step.call}:signal=KILL:when={step.nth}",
    )  # fmt: skip
    run(home, "sweep", *arguments, before=before)
    text = trace.read_text("utf-8", "replace")
    trace.unlink()
    return "+++ killed by SIGKILL" in text


def ledger_of(home: Home) -> list[tuple[object, ...]]:
    """Return what the ledger knows at the end, without numbers and times."""
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        rows = connection.execute(
            "SELECT photographer, path, original.state, destination, density, delivery.state, output, output_size, "
            "output_digest, intent, wanted FROM original LEFT JOIN delivery ON delivery.original = original.id "
            "WHERE original.state <> 'gone' ORDER BY photographer, path, destination, density"
        ).fetchall()
    root = bytes(home.root)
    return [tuple(v.removeprefix(root) if isinstance(v, bytes) else v for v in row) for row in rows]


def leftovers(home: Home) -> list[str]:
    """Return temporary files that lie in destinations, filing and proof folders."""
    folders = [home.out(), home.root / "filed", home.root / "proofs"]
    return [str(path) for folder in folders for path in folder.rglob(".*")]
