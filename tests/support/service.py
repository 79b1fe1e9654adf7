"""The real service in a process of its own, on a real file system."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, Any

import psutil
import pytest

from tests.support.starter import CAN_FORK, Started, start

SERVICE = Path(__file__).resolve().parents[2] / "service"
PATIENCE = 120.0
"""Seconds after which something that should happen counts as not happening; far more than it takes."""


@dataclass(frozen=True)
class Home:
    """A folder with a config, drop folders and destinations."""

    root: Path

    @property
    def config(self) -> Path:
        """The config file."""
        return self.root / "lanternslide.toml"

    def drop(self, photographer: str = "ida") -> Path:
        """Return the drop folder of a photographer."""
        return self.root / "drop" / photographer

    def out(self, *parts: str) -> Path:
        """Return a path below the destinations."""
        return self.root.joinpath("out", *parts)

    def delivered(self) -> dict[str, bytes]:
        """Every file below the destinations, by its path there."""
        out = self.out()
        found: dict[str, bytes] = {}
        for path in sorted(out.rglob("*")):
            with suppress(FileNotFoundError):  # a temporary file that has just got its name
                if path.is_file():
                    found[str(path.relative_to(out))] = path.read_bytes()
        return found

    def is_working(self) -> bool:
        """Return whether deliveries are being made, or are next, by what the ledger says."""
        ledger_file = self.root / "state" / "ledger.sqlite"
        if not ledger_file.exists():
            return False
        with closing(sqlite3.connect(f"{ledger_file.as_uri()}?mode=ro", uri=True)) as ledger:
            return bool(ledger.execute("SELECT count(*) FROM original WHERE state = 'working'").fetchone()[0])


PLAIN = """
[service]
state = "state"
settle_seconds = 0.1
workers = 2

[photographers.ida]
drop = "drop/ida"
otherwise = ["portfolio", "journal"]

[destinations.portfolio]
folder = "out/{photographer}/portfolio"
size = { long_edge = 1050 }

[destinations.journal]
folder = "out/{photographer}/journal"
size = { long_edge = 1600 }

[destinations.club]
folder = "out/club"
size = { box = [1920, 1080] }
"""
"""One photographer, three destinations."""

FILING = PLAIN.replace('drop = "drop/ida"', 'drop = "drop/ida"\noriginals = "filed/ida"')
"""The same, and finished originals are filed away; the folder above is the test's to make."""


def make_home(root: Path, config: str = PLAIN) -> Home:
    """Make the folders that *config* needs, for photographers ida and juno."""
    home = Home(root)
    home.config.write_text(config)
    for photographer in ("ida", "juno"):
        home.drop(photographer).mkdir(parents=True)
    home.out().mkdir()
    return home


def _command(home: Home, *arguments: str) -> list[str]:
    return [sys.executable, "-m", "lanternslide", "--config", str(home.config), *arguments]


def _environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(SERVICE), "PYTHONWARNINGS": "default"}


@dataclass(frozen=True)
class Ran:
    """How a command ended."""

    status: int
    output: str
    events: list[dict[str, Any]]
    errors: str

    @property
    def said(self) -> str:
        """The output on one line: where it is folded depends on how long the paths in it are."""
        return " ".join(self.output.split())

    def held(self) -> dict[str, str]:
        """Return the reasons of what was held, by original."""
        return {event["original"]: event["reason"] for event in self.events if event["event"] == "held"}


def sweep(home: Home, *before: str) -> Ran:
    """Run ``lanternslide sweep``, by the command *before* it where one is given."""
    return run(home, "sweep", before=before)


def run(home: Home, *arguments: str | Path, before: tuple[str, ...] = ()) -> Ran:
    """Run a command of lanternslide, by the command *before* it where one is given."""
    with TemporaryFile() as output, TemporaryFile() as errors:
        process = _start(home, *map(str, arguments), before=before, output=output, errors=errors)
        try:
            status = process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(PATIENCE)
            pytest.fail(f"{arguments} did not end: {_text_of(output)}{_text_of(errors)}")
        said, complained = (_text_of(stream) for stream in (output, errors))
    return Ran(status=status, output=said, events=_events(complained), errors=complained)


def _start(
    home: Home, *arguments: str, before: tuple[str, ...] = (), environment: Mapping[str, str] | None = None,
    output: IO[bytes] | None = None, errors: IO[bytes] | None = None,
) -> Started | subprocess.Popen[bytes]:  # fmt: skip
    """Start a command of lanternslide without input, in the fastest way there is."""
    environment = {**_environment(), **(environment or {})}
    if CAN_FORK and not before:
        return start(["--config", str(home.config), *arguments], environment=environment, output=output, errors=errors)
    command = [*before, *_command(home, *arguments)]
    return subprocess.Popen(command, env=environment, stdin=subprocess.DEVNULL, stdout=output, stderr=errors)


def _text_of(stream: IO[bytes]) -> str:
    stream.seek(0)
    return stream.read().decode("utf-8").replace("\r\n", "\n")


def _events(log: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in log.splitlines() if line.startswith("{")]


class Watching:
    """A running ``lanternslide watch``, or another *command* that takes its time."""

    def __init__(
        self, home: Home, log: Path, *arguments: str, environment: Mapping[str, str] | None = None,
        command: tuple[str, ...] = ("watch",),
    ) -> None:  # fmt: skip
        self._log = log
        with log.open("ab") as stream:
            self.process = _start(home, *command, *arguments, environment=environment, errors=stream)

    def events(self) -> list[dict[str, Any]]:
        """Return the log so far."""
        return _events(self._log.read_text("utf-8"))

    def until(self, holds: Callable[[], object], what: str, pause: float = 0.05) -> None:
        """Wait until something holds, looking every *pause* seconds.

        Raises
        ------
        AssertionError
            If the service ends or it takes too long.
        """
        end = time.monotonic() + PATIENCE
        while not holds():
            assert self.process.poll() is None, f"the service ended: {self._log.read_text()}"
            assert time.monotonic() < end, f"{what} did not happen: {self._log.read_text()}"
            time.sleep(pause)

    def told(self, event: str) -> list[dict[str, Any]]:
        """Return what was logged of one kind so far."""
        return [found for found in self.events() if found["event"] == event]

    def until_told(self, event: str, times: int = 1) -> None:
        """Wait until something was logged so often."""
        self.until(lambda: len(self.told(event)) >= times, f"“{event}”, {times} times,")

    def until_started(self) -> None:
        """Wait until it watches the drop folders."""
        self.until_told("watching")

    def workers(self) -> list[int]:
        """Return the process numbers of its workers."""
        children = psutil.Process(self.process.pid).children()
        return [child.pid for child in children if "spawn_main" in " ".join(child.cmdline())]

    def stop(self) -> int:
        """Stop it in order and return its exit status."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(PATIENCE)

    def kill(self) -> None:
        """Kill it and its workers without warning."""
        self.process.kill()
        self.process.wait(PATIENCE)


@contextmanager
def watching(
    home: Home, *arguments: str, log: str = "watch.log", environment: Mapping[str, str] | None = None
) -> Iterator[Watching]:
    """Run ``lanternslide watch`` meanwhile; it is killed at the end if it was not stopped."""
    running = Watching(home, home.root / log, *arguments, environment=environment)
    try:
        yield running
    finally:
        if running.process.poll() is None:
            running.kill()
