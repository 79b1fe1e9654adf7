"""Telling Windows' Task Scheduler, by the system's own program for it.

Source: Microsoft Learn, "schtasks commands". It asks for the account's password itself; nothing here ever has it.
"""

from __future__ import annotations

import codecs
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from lanternslide.errors import ServiceRunsOnError, TaskRefusedError
from lanternslide.install.windows_task import TaskDefinition, task_file
from lanternslide.ledger import ask_holder, ask_to_stop
from lanternslide.words import told

__all__ = ["register_task", "registered_task", "remove_task"]

PROGRAM = "schtasks"
SPARE_SECONDS = 15.0
"""How much longer than its grace time a service may take to stop: one look for the stop file, and its last words."""
LOOK_SECONDS = 0.2


def register_task(task: TaskDefinition) -> None:
    """Register *task*; its password is asked for on the terminal, by Windows, as is whether to replace one.

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
        _tell("/Create", "/XML", str(file), "/TN", task.name, "/RU", task.user, "/RP", "*", asks=True)


def registered_task(name: str) -> str | None:
    """Return the definition of the task *name*, as XML; None if there is none that this user may see.

    What the terminal's code page does not know is lost from it (seen in field reports alone).

    Raises
    ------
    TaskRefusedError
        If this system has no Task Scheduler.
    """
    done = _run("/Query", "/TN", name, "/XML")
    return _text(done.stdout) if done.returncode == 0 else None


def remove_task(name: str, state: Path, *, grace_seconds: float) -> None:
    """Have the service stop in order, then remove its task.

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
        If the service has not stopped in time, or it cannot be told whether it has. The task is off then, and still
        there.
    """
    _tell("/Change", "/TN", name, "/DISABLE")
    _stop(state, grace_seconds + SPARE_SECONDS)
    _tell("/Delete", "/TN", name, "/F")


def _stop(state: Path, patience: float) -> None:
    """Ask whoever works with the *state* folder to stop, and wait until nobody does."""
    holder = _holder(state)
    if holder is None:
        return
    try:
        ask_to_stop(state)
    except OSError as error:
        raise ServiceRunsOnError(str(state), holder, told(error)) from error
    end = time.monotonic() + patience
    while (holder := _holder(state)) is not None:
        if time.monotonic() >= end:
            raise ServiceRunsOnError(str(state), holder, f"it did not stop within {patience:.0f} seconds")
        time.sleep(LOOK_SECONDS)


def _holder(state: Path) -> str | None:
    """Return who works with the *state* folder; who cannot be asked for counts as somebody."""
    try:
        return ask_holder(state)
    except OSError as error:
        return f"somebody who cannot be asked for ({told(error)})"


def _tell(*arguments: str, asks: bool = False) -> None:
    """Run the program; with *asks* it speaks with the person itself."""
    done = _run(*arguments, asks=asks)
    if done.returncode != 0:
        said = " ".join(f"{_text(done.stdout)} {_text(done.stderr)}".split())
        raise TaskRefusedError(" ".join((PROGRAM, *arguments)), said or f"exit status {done.returncode}")


def _run(*arguments: str, asks: bool = False) -> subprocess.CompletedProcess[bytes]:
    # A question that nobody sees would be waited on for ever.
    stdin = None if asks else subprocess.DEVNULL
    try:
        return subprocess.run([PROGRAM, *arguments], stdin=stdin, capture_output=not asks, check=False)
    except FileNotFoundError as error:
        raise TaskRefusedError(PROGRAM, "there is no such program; only Windows has it") from error


def _text(output: bytes | None) -> str:
    """Return what the program has said: in the code page of terminals, or in UTF-16 with its mark."""
    said = output or b""
    if said.startswith(codecs.BOM_UTF16_LE):
        return said.decode("utf-16", "replace")
    return said.decode("oem" if sys.platform == "win32" else "utf-8", "replace")
