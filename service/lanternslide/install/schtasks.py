"""Telling Windows' Task Scheduler, by the system's own program for it.

Source: Microsoft Learn, "schtasks commands". It asks for the account's password itself; nothing here ever has it.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from lanternslide.errors import ServiceRunsOnError, TaskRefusedError
from lanternslide.install.windows_task import TaskDefinition, task_file
from lanternslide.ledger import ask_to_stop, holder_of

__all__ = ["is_registered", "register_task", "remove_task"]

PROGRAM = "schtasks"
SPARE_SECONDS = 15.0
"""How much longer than its grace time a service may take to stop: one look for the stop file, and its last words."""
LOOK_SECONDS = 0.2


def register_task(task: TaskDefinition, *, again: bool = False) -> None:
    """Register *task*; its password is asked for on the terminal, by Windows.

    Parameters
    ----------
    again
        Whether it takes the place of one of that name; otherwise Windows asks.

    Raises
    ------
    UsageError
        If a path or name is one that a task cannot say.
    TaskRefusedError
        If Windows does not take it.
    """
    with TemporaryDirectory(prefix="lanternslide-") as folder:
        file = Path(folder) / "task.xml"
        file.write_bytes(task_file(task))
        place = ["/F"] if again else []
        _tell("/Create", "/XML", str(file), "/TN", task.name, "/RU", task.user, "/RP", "*", *place, asks=True)


def is_registered(name: str) -> bool:
    """Return whether there is a task *name* that this user may see.

    Raises
    ------
    TaskRefusedError
        If this system has no Task Scheduler.
    """
    return _run("/Query", "/TN", name).returncode == 0


def remove_task(name: str, state: Path, *, grace_seconds: float) -> bool:
    """Have the service stop in order, then remove its task; return False if there is none.

    The order: no new start; the service asked to stop, which gives it its grace time; its state folder free; the task
    gone. Deleting a task first would leave the service running, unseen.

    Parameters
    ----------
    state
        The service's state folder.
    grace_seconds
        What the config grants for stopping.

    Raises
    ------
    TaskRefusedError
        If Windows refuses a step.
    ServiceRunsOnError
        If the service has not stopped in time. The task is off then, and still there.
    """
    if not is_registered(name):
        return False
    _tell("/Change", "/TN", name, "/DISABLE")
    _stop(state, grace_seconds + SPARE_SECONDS)
    _tell("/Delete", "/TN", name, "/F")
    return True


def _stop(state: Path, patience: float) -> None:
    """Ask whoever works with the *state* folder to stop, and wait until nobody does."""
    holder = holder_of(state)
    if holder is None:
        return
    try:
        ask_to_stop(state)
    except OSError as error:
        raise ServiceRunsOnError(str(state), holder, error.strerror or str(error)) from error
    end = time.monotonic() + patience
    while (holder := holder_of(state)) is not None:
        if time.monotonic() >= end:
            raise ServiceRunsOnError(str(state), holder, f"it did not stop within {patience:.0f} seconds")
        time.sleep(LOOK_SECONDS)


def _tell(*arguments: str, asks: bool = False) -> None:
    """Run the program; with *asks* it speaks with the person itself."""
    done = _run(*arguments, asks=asks)
    if done.returncode != 0:
        said = " ".join(f"{done.stdout or ''} {done.stderr or ''}".split())
        raise TaskRefusedError(" ".join((PROGRAM, *arguments)), said or f"exit status {done.returncode}")


def _run(*arguments: str, asks: bool = False) -> subprocess.CompletedProcess[str]:
    try:
        return subprocess.run(
            [PROGRAM, *arguments], capture_output=not asks, check=False, errors="replace",
            encoding="oem" if sys.platform == "win32" else "utf-8",
        )  # fmt: skip
    except FileNotFoundError as error:
        raise TaskRefusedError(PROGRAM, "there is no such program; only Windows has it") from error
