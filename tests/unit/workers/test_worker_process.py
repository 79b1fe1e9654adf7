"""What a worker process runs, in real processes; and what the main process never loads."""

from __future__ import annotations

import errno
import multiprocessing
import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import Any

import pytest

from lanternslide.workers.worker_process import READY, TAKEN, Raised, Returned, call, run_worker
from tests.support.executors import MISBEHAVING, PATIENCE
from tests.support.misbehaving import Misbehave


def test_the_main_process_never_loads_the_imaging_code() -> None:
    """Pixels live and die in workers: nothing of what decodes them is loaded with the service, nor is a cluster's."""
    heavy = (
        "numpy", "PIL", "pyvips", "pyexiv2", "distributed", "lanternslide.imaging", "lanternslide.worker",
        "lanternslide.chain",
    )  # fmt: skip
    loads = "import lanternslide.cli.main, lanternslide.daemon.service, lanternslide.workers.choice, sys"
    script = f"{loads}; print([name for name in {heavy!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)

    assert done.stdout.strip() == "[]"


# One call


def test_what_a_function_returns_comes_back() -> None:
    """Also nothing."""
    assert call(len, "seal") == Returned(value=4)
    assert call([].extend, ()) == Returned(value=None)


@pytest.mark.parametrize(
    ("error", "text"),
    [
        (LookupError("no seal"), "a fault in lanternslide itself, LookupError: no seal"),
        (ZeroDivisionError(), "a fault in lanternslide itself, ZeroDivisionError"),
        (ValueError("/proc/self/fd/6: no seal"), "a fault in lanternslide itself, ValueError: no seal"),
        (OSError(errno.EMFILE, "Too many open files", "/proc/self/fd/6"), "Too many open files"),
        (OSError("no seal"), "a fault in lanternslide itself, OSError: no seal"),
        (MemoryError("32 GiB"), "it ran out of the memory that it may take"),
    ],
)
def test_what_nobody_foresaw_is_a_line_for_a_person_and_a_trace_for_the_log(error: Exception, text: str) -> None:
    """A fault of the code costs one attempt of one job; too little memory is no fault of the code."""

    def fails(_task: object) -> None:
        raise error

    found = call(fails, None)

    assert isinstance(found, Raised)
    assert found.text == text
    assert "in fails" in found.trace


@pytest.mark.parametrize("error", [KeyboardInterrupt, SystemExit])
def test_what_ends_a_process_is_not_answered(error: type[BaseException]) -> None:
    """The process ends, as it was told."""

    def ends(_task: object) -> None:
        raise error

    with pytest.raises(error):
        call(ends, None)


# A worker's life


@contextmanager
def worker(module: str = MISBEHAVING) -> Iterator[tuple[SpawnProcess, Connection]]:
    """Run a worker with the functions of *module* meanwhile."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=run_worker, args=(theirs, module))
    process.start()
    theirs.close()
    try:
        yield process, ours
    finally:
        ours.close()
        process.kill()
        process.join(PATIENCE)


def heard(connection: Connection) -> Any:
    """Return what a worker says next."""
    assert connection.poll(PATIENCE), "it says nothing"
    return connection.recv()


def test_a_worker_does_one_task_after_the_other_until_nobody_has_any_more() -> None:
    """It says when it is ready and when it has a task; neither a failure nor Ctrl-C at the terminal ends it."""
    with worker() as (process, connection):
        assert heard(connection) == READY
        assert process.pid is not None
        if sys.platform == "linux":
            score = Path(f"/proc/{process.pid}/oom_score_adj").read_text("ascii")
            assert int(score) == 900, "the system ends it before the service when memory runs out"
        for task, answer in (
            (Misbehave("double", 4), Returned(value=8)),
            (Misbehave("fail", "no seal"), "a fault in lanternslide itself, LookupError: no seal"),
            (Misbehave("pid", None), Returned(value=process.pid)),
        ):
            if sys.platform != "win32":
                os.kill(process.pid, signal.SIGINT)
            connection.send(task)
            assert heard(connection) == TAKEN
            found = heard(connection)
            assert (found.text if isinstance(found, Raised) else found) == answer
        connection.close()
        process.join(PATIENCE)
        assert process.exitcode == 0


def test_a_worker_that_cannot_load_its_functions_never_gets_ready() -> None:
    """Its end is all that is heard, and no task is lost with it."""
    with worker("tests.support.no_such_module") as (process, connection):
        with pytest.raises(EOFError):
            heard(connection)
        process.join(PATIENCE)
        assert process.exitcode == 1


DIES = f"""
import multiprocessing, os, signal
from lanternslide.workers.worker_process import run_worker
from tests.support.misbehaving import Misbehave
context = multiprocessing.get_context("spawn")
ours, theirs = context.Pipe()
process = context.Process(target=run_worker, args=(theirs, "{MISBEHAVING}"))
process.start()
ours.recv(), ours.send(Misbehave("hang", None)), ours.recv()
print(process.pid, flush=True)
os.kill(os.getpid(), signal.SIGKILL)
"""
"""A service that is killed while a worker is at work."""


@pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="only Linux tells of the end of somebody else's child")
def test_a_worker_ends_with_its_service() -> None:
    """In the middle of its work: it must not write where the next service has already swept."""
    path = os.pathsep.join(sys.path)
    killed = subprocess.run(
        [sys.executable, "-c", DIES], env={**os.environ, "PYTHONPATH": path}, stdout=subprocess.PIPE, check=False
    )
    assert killed.returncode == -signal.SIGKILL
    with suppress(ProcessLookupError):  # it has ended, and is gone already
        ends = os.pidfd_open(int(killed.stdout))
        try:
            assert select.select([ends], [], [], PATIENCE)[0], "it is still at work"
        finally:
            os.close(ends)
