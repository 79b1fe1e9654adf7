"""A real cluster on this machine: a scheduler and workers in processes of their own, over TCP on loopback."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

import psutil

from lanternslide.config import Settings
from lanternslide.config.settings import Cluster

__all__ = ["ClusterOfProcesses", "free_port", "settings_for"]

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 90.0


def free_port() -> int:
    """Return a port of this machine that nobody uses."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def settings_for(settings: Settings, executor: str, cluster: Cluster | None = None) -> Settings:
    """Return *settings* with another executor."""
    service = settings.service.model_copy(update={"executor": executor})
    return settings.model_copy(update={"service": service, "cluster": cluster})


class ClusterOfProcesses:
    """Starts, kills and starts again. Each group of workers is one `dask worker` command.

    Parameters
    ----------
    folder
        For logs and the workers' own files.
    options
        What every process is started with, such as its keys.
    """

    def __init__(self, folder: Path, options: tuple[str, ...] = (), scheme: str = "tcp") -> None:
        self._folder = folder
        self._options = options
        self.port = free_port()
        self._scheme = scheme
        self._scheduler: subprocess.Popen[bytes] | None = None
        self._groups: list[subprocess.Popen[bytes]] = []
        self._started = 0

    @property
    def executor(self) -> str:
        """What a config calls the scheduler."""
        return f"{'dask' if self._scheme == 'tcp' else 'dask+tls'}://127.0.0.1:{self.port}"

    def start_scheduler(self, environment: Mapping[str, str] | None = None) -> None:
        """Start the scheduler, always at the same port."""
        self._scheduler = self._start(
            "scheduler", "--host", f"{self._scheme}://127.0.0.1:{self.port}", "--no-dashboard", "--no-jupyter",
            environment=environment,
        )  # fmt: skip
        end = time.monotonic() + PATIENCE
        while True:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            assert time.monotonic() < end, "the scheduler does not listen"
            time.sleep(0.05)

    def start_workers(
        self,
        number: int,
        *options: str,
        memory: str = "2GiB",
        before: tuple[str, ...] = (),
        environment: Mapping[str, str] | None = None,
    ) -> subprocess.Popen[bytes]:
        """Start so many workers by one command, by the command *before* it where one is given."""
        self._started += 1
        group = self._start(
            "worker", f"{self._scheme}://127.0.0.1:{self.port}", "--nworkers", str(number), "--memory-limit", memory,
            "--local-directory", str(self._folder / f"workers-{self._started}"), "--no-dashboard",
            *(options if "--nthreads" in options else ("--nthreads", "1", *options)),
            before=before, environment=environment,
        )  # fmt: skip
        self._groups.append(group)
        return group

    def wait_for_workers(self, number: int) -> None:
        """Wait until so many workers have joined the scheduler, which asks for no keys."""
        from distributed import Client  # noqa: PLC0415 - only clusters need it

        assert self._scheme == "tcp"
        with Client(f"{self._scheme}://127.0.0.1:{self.port}", set_as_default=False) as client:
            client.wait_for_workers(number, timeout=PATIENCE)

    def processes(self) -> list[int]:
        """Return the process numbers of all workers, without those that watch over them."""
        found = []
        for group in self._groups:
            if group.poll() is None:
                children = psutil.Process(group.pid).children(recursive=True)
                found += [child.pid for child in children if "spawn_main" in " ".join(_words(child))]
        return found

    def scheduler_id(self) -> int:
        """Return the scheduler's process number."""
        assert self._scheduler is not None
        return self._scheduler.pid

    def kill_workers(self) -> None:
        """Kill all workers and those that watch over them."""
        for group in self._groups:
            _kill(group)
        self._groups.clear()

    @property
    def scheduler(self) -> int:
        """The scheduler's process number."""
        assert self._scheduler is not None
        return self._scheduler.pid

    def kill_scheduler(self) -> None:
        """Kill the scheduler."""
        if self._scheduler is not None:
            _kill(self._scheduler)
            self._scheduler = None

    def close(self) -> None:
        """Kill everything."""
        self.kill_workers()
        self.kill_scheduler()

    def log(self) -> str:
        """Return what all processes have written."""
        return "\n".join(path.read_text("utf-8", "replace") for path in sorted(self._folder.glob("*.log")))

    def _start(
        self, command: str, *words: str, before: tuple[str, ...] = (), environment: Mapping[str, str] | None = None
    ) -> subprocess.Popen[bytes]:
        # Whole paths: it runs in another folder.
        more = dict(environment or {})
        path = os.pathsep.join([*filter(None, [more.pop("PYTHONPATH", "")]), str(ROOT / "service"), str(ROOT)])
        with (self._folder / f"{command}-{time.monotonic_ns()}.log").open("wb") as log:
            return subprocess.Popen(
                [*before, sys.executable, "-m", "dask", command, *words, *self._options],
                stdout=log,
                stderr=subprocess.STDOUT,
                cwd=self._folder,
                env={**os.environ, "PYTHONPATH": path, "PYTHONWARNINGS": "", **more},
                start_new_session=True,
            )


def _words(process: psutil.Process) -> list[str]:
    try:
        words: list[str] = process.cmdline()
    except psutil.Error:
        return []
    return words


def _kill(process: subprocess.Popen[bytes]) -> None:
    """Kill a process and all that it has started."""
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()
