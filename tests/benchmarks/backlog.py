"""Fresh drops while a back catalogue is made again: how long they wait, what a kill costs, and what memory it takes.

Run it with ``python -m tests.benchmarks.backlog [--originals 20000] [--drops 20] [--every 5] [--whole]``. So many small
originals (90 × 60 pixels) are known and delivered; then the config changes and ``sweep --again`` asks the service for
all of them. Before that, and meanwhile, a fresh file is dropped now and then, and the time until its delivery is read
is measured, less the time that it has to settle. One job is the time of one delivery in a process that has made some,
by the worker's functions alone. Then the service is killed, and it is measured how long it takes from its next start
until it delivers again. ``--whole`` waits until all are made and counts them.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median

from tests.benchmarks.scale import alone, peak_mib
from tests.support.catalogue import CHANGED, make_catalogue, numbered, remade
from tests.support.pictures import save_jpeg
from tests.support.service import SERVICE, Home, Watching, watching

SETTLE = 0.3
"""Seconds that a file must stay as it is, as the config says."""

FRESH = 1_000_000
"""Numbers of fresh files begin here."""


@contextmanager
def catalogue(number: int) -> Iterator[Home]:
    """Make so many known originals, and take them away at the end."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "home"
        root.mkdir()
        yield make_catalogue(root, number)


def drop_and_wait(home: Home, content: bytes, number: int) -> float:
    """Drop a fresh file and return how long its delivery took beyond settling, in seconds."""
    name = f"fresh-{number}.jpg"
    hidden = home.drop() / f".{name}.part"
    hidden.write_bytes(numbered(content, FRESH + number))
    started = time.perf_counter()
    hidden.rename(home.drop() / name)
    while not home.out("club", name).exists():
        time.sleep(0.002)
    return time.perf_counter() - started - SETTLE


def drops(home: Home, content: bytes, first: int, number: int, every: float) -> list[float]:
    """Drop so many fresh files, one every so many seconds, and return how long each took."""
    found = []
    for index in range(first, first + number):
        found.append(drop_and_wait(home, content, index))
        time.sleep(every)
    return found


def said(times: list[float]) -> str:
    """Return the middle and the longest of some times for a reader."""
    return f"median {median(times) * 1000:.0f} ms, longest {max(times) * 1000:.0f} ms"


def ask_again(home: Home) -> subprocess.Popen[str]:
    """Change the config and ask the service for all."""
    home.config.write_text(home.config.read_text().replace(*CHANGED))
    command = [sys.executable, "-m", "lanternslide", "--config", str(home.config), "sweep", "--again"]
    environment = {**os.environ, "PYTHONPATH": str(SERVICE)}
    return subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True)


def until_watching(service: Watching, times: int) -> None:
    """Wait until it was said so many times that the drop folders are watched."""
    while sum(event["event"] == "watching" for event in service.events()) < times:
        time.sleep(0.02)


def measure(home: Home, arguments: argparse.Namespace) -> None:
    """Measure and print."""
    source = home.root / "alone"
    source.mkdir()
    content = save_jpeg(source / "0.jpg", 90, 60, seed=2).read_bytes()
    for index in range(1, 300):
        (source / f"{index}.jpg").write_bytes(numbered(content, FRESH * 2 + index))
    job = alone(source)
    shutil.rmtree(source)
    print(f"one job alone: {job * 1000:.0f} ms", flush=True)
    with watching(home) as service:
        until_watching(service, 1)
        time.sleep(5)
        drop_and_wait(home, content, 0)  # the workers have loaded everything
        without = drops(home, content, 1, arguments.drops, 0.2)
        print(f"a fresh drop without a backlog: {said(without)}", flush=True)
        started = time.perf_counter()
        asking = ask_again(home)
        marking: list[float] = []
        while asking.poll() is None:
            marking.append(drop_and_wait(home, content, 1000 + len(marking)))
        answered = time.perf_counter() - started
        print(f"while {arguments.originals} are marked, {answered:.1f} s: a fresh drop {said(marking)}", flush=True)
        print(asking.communicate()[0].strip())
        began, done = time.perf_counter(), remade(home)
        beside = drops(home, content, 5000, arguments.drops, arguments.every)
        pace = (remade(home) - done) / (time.perf_counter() - began)
        ratio = median(beside) / median(without)
        more = (median(beside) - median(without)) / job
        print(f"a fresh drop beside the backlog: {said(beside)}; {ratio:.1f} times as long, {more:.1f} jobs more")
        print(f"made meanwhile: {pace:.0f} a second; main process {peak_mib(service.process.pid):.0f} MiB", flush=True)
        service.kill()
        resume(home, arguments)


def resume(home: Home, arguments: argparse.Namespace) -> None:
    """Measure how long it takes until the service goes on after it was killed."""
    done = remade(home)
    started = time.perf_counter()
    with watching(home, log="resumed.log") as service:
        while remade(home) == done:
            time.sleep(0.01)
        print(f"after a kill with {done} made: goes on after {time.perf_counter() - started:.2f} s", flush=True)
        while arguments.whole and not any(event["event"] == "batch done" for event in service.events()):
            time.sleep(1)
        if arguments.whole:
            took = time.perf_counter() - started
            made = sum(event["event"] == "delivered" for event in service.events())
            print(f"the rest: {made} deliveries in {took:.0f} s; {remade(home)} in all", flush=True)
        print(f"main process {peak_mib(service.process.pid):.0f} MiB at its peak")
        assert service.stop() == 0


def main() -> None:
    """Make the catalogue, measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--originals", type=int, default=20_000)
    parser.add_argument("--drops", type=int, default=20)
    parser.add_argument("--every", type=float, default=2.0)
    parser.add_argument("--whole", action="store_true")
    arguments = parser.parse_args()
    with catalogue(arguments.originals) as home:
        measure(home, arguments)


if __name__ == "__main__":
    main()
