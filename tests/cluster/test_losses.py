"""A cluster of real processes on this machine loses workers, all workers, and its scheduler, in the middle of work.

300 originals each time; at the end each is delivered once, with the bytes that one machine alone makes.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import pytest

from tests.support.cluster import ClusterOfProcesses
from tests.support.pictures import save_jpeg
from tests.support.service import Home, Watching, make_home, run, sweep, watching

pytestmark = pytest.mark.timeout(900)

NUMBER = 300
WORKERS = 3

CONFIG = """
[service]
state = "state"
settle_seconds = 0.1
workers = 2
log = "json"
executor = "EXECUTOR"

[photographers.ida]
drop = "drop/ida"
otherwise = ["portfolio", "journal"]

[destinations.portfolio]
folder = "out/{photographer}/portfolio"
size = { long_edge = 160 }

[destinations.journal]
folder = "out/journal"
size = { long_edge = 100 }
"""


@pytest.fixture(scope="module")
def originals(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make originals of two sizes, some in folders, some that cannot be read."""
    folder = tmp_path_factory.mktemp("originals")
    (folder / "cliffs").mkdir()
    for number in range(NUMBER - 2):
        where = folder / "cliffs" if number % 5 == 0 else folder
        size = (900, 600) if number % 10 == 0 else (240, 160)
        save_jpeg(where / f"stack-{number:03d}.jpg", *size, seed=number)
    (folder / "cut short.jpg").write_bytes((folder / "stack-001.jpg").read_bytes()[:4000])
    (folder / "empty.jpg").touch()
    return folder


@pytest.fixture(scope="module")
def expected(originals: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Return what one machine alone delivers."""
    home = make_home(tmp_path_factory.mktemp("alone"), CONFIG.replace("EXECUTOR", "local"))
    shutil.copytree(originals, home.drop(), dirs_exist_ok=True)
    assert sweep(home).status == 1
    delivered = home.delivered()
    assert len(delivered) == 2 * (NUMBER - 2)
    return delivered


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[ClusterOfProcesses]:
    """Run a scheduler and three workers."""
    folder = tmp_path / "cluster"
    folder.mkdir()
    running = ClusterOfProcesses(folder)
    running.start_scheduler()
    running.start_workers(WORKERS, memory="1GiB")
    yield running
    running.close()


@pytest.fixture
def home(tmp_path: Path, cluster: ClusterOfProcesses) -> Home:
    """Return a home whose work is done by the cluster."""
    root = tmp_path / "home"
    root.mkdir()
    return make_home(root, CONFIG.replace("EXECUTOR", cluster.executor))


def check(home: Home, events: list[dict[str, Any]], expected: dict[str, bytes]) -> None:
    """Everything is delivered once, as one machine alone does it, and nothing is left over."""
    assert home.delivered() == expected
    outputs = [event["output"] for event in events if event["event"] == "delivered"]
    assert len(outputs) == len(set(outputs)) == len(expected)
    assert sorted(event["original"] for event in events if event["event"] == "held") == [
        "ida: cut short.jpg",
        "ida: empty.jpg",
    ]
    records = [json.loads(line) for line in run(home, "history", "--json").output.splitlines()]
    assert sorted(record["state"] for record in records) == ["delivered"] * len(expected) + ["held"] * 2
    assert not list(home.root.rglob(".lanternslide-*"))


def test_a_sweep_on_a_cluster_makes_what_one_machine_makes(
    home: Home, originals: Path, cluster: ClusterOfProcesses, expected: dict[str, bytes]
) -> None:
    """300 originals, three workers: equal bytes; and a second sweep does nothing."""
    shutil.copytree(originals, home.drop(), dirs_exist_ok=True)

    done = sweep(home)

    assert done.status == 1, done.errors
    check(home, done.events, expected)
    assert [event["event"] for event in done.events].count("worker joined") == WORKERS
    assert len(cluster.processes()) == WORKERS
    again = sweep(home)
    assert (again.status, [event for event in again.events if event["event"] == "delivered"]) == (1, [])
    assert home.delivered() == expected


def kill_a_worker(cluster: ClusterOfProcesses) -> None:
    """Kill one worker's process; who watches over it starts another."""
    os.kill(random.choice(cluster.processes()), signal.SIGKILL)


def kill_all_workers(cluster: ClusterOfProcesses) -> None:
    """Kill all workers and who watches over them, and start others."""
    cluster.kill_workers()
    cluster.start_workers(WORKERS, memory="1GiB")


def restart_the_scheduler(cluster: ClusterOfProcesses) -> None:
    """Kill the scheduler, which ends the workers, and start all anew, as a system's supervisor does."""
    cluster.kill_scheduler()
    cluster.start_scheduler()
    cluster.kill_workers()
    cluster.start_workers(WORKERS, memory="1GiB")


@pytest.mark.parametrize(("harm", "times"), [(kill_a_worker, 4), (kill_all_workers, 2), (restart_the_scheduler, 2)])
def test_whatever_is_lost_all_is_delivered_once(
    home: Home,
    originals: Path,
    cluster: ClusterOfProcesses,
    expected: dict[str, bytes],
    harm: Callable[[ClusterOfProcesses], None],
    times: int,
) -> None:
    """Each loss happens while orders are at work; what was lost is made anew."""
    with watching(home) as service:
        service.until(lambda: _count(service, "worker joined") >= WORKERS, "the workers have joined")
        shutil.copytree(originals, home.drop(), dirs_exist_ok=True)
        for number in range(1, times + 1):
            part = len(expected) * number // (times + 1)
            service.until(lambda part=part: _count(service, "delivered") >= part, f"{part} deliveries")  # type: ignore[misc]
            harm(cluster)
        service.until(lambda: _count(service, "batch done"), "all is done")
        assert service.stop() == 0
        events = service.events()

    check(home, events, expected)
    # Each time others have come in place of those who were lost.
    assert _count_of(events, "worker joined") >= WORKERS + (times if harm is kill_a_worker else times * WORKERS)
    assert _count_of(events, "engine failed") == 0


class Wire:
    """Passes on what a service and its scheduler say to each other, until it is cut; they may then connect anew."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._lock = threading.Lock()
        self._sockets: list[socket.socket] = []
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listening.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def cut_first(self) -> None:
        """End the oldest connection."""
        self._end_sockets(2)

    def cut(self) -> None:
        """End every connection."""
        self._end_sockets(None)

    def close(self) -> None:
        """Connect nobody any more."""
        _end(self._listening)
        self.cut()

    def _end_sockets(self, number: int | None) -> None:
        with self._lock:
            ended = self._sockets[:number]
            del self._sockets[:number]
        for end in ended:
            _end(end)

    def _accept(self) -> None:
        with suppress(OSError):  # closed
            while True:
                near, _ = self._listening.accept()
                try:
                    far = socket.create_connection(("127.0.0.1", self._port))
                except OSError:  # who asks will ask again
                    near.close()
                    continue
                with self._lock:
                    self._sockets += [near, far]
                for source, sink in ((near, far), (far, near)):
                    threading.Thread(target=_pass_on, args=(source, sink), daemon=True).start()


def _pass_on(source: socket.socket, sink: socket.socket) -> None:
    with suppress(OSError):  # cut
        while said := source.recv(1 << 16):
            sink.sendall(said)
    with suppress(OSError):
        sink.shutdown(socket.SHUT_RDWR)


def _end(connection: socket.socket) -> None:
    with suppress(OSError):  # ended by itself
        connection.shutdown(socket.SHUT_RDWR)  # whoever waits for it hears of that, not of its closing
    connection.close()


def test_a_connection_that_is_cut_costs_nothing(
    tmp_path: Path, originals: Path, cluster: ClusterOfProcesses, expected: dict[str, bytes]
) -> None:
    """The scheduler is there all the time, so the client is back at once: nothing is delivered twice or forgotten."""
    (tmp_path / "home").mkdir()
    with closing(Wire(cluster.port)) as wire:
        home = make_home(tmp_path / "home", CONFIG.replace("EXECUTOR", f"dask://127.0.0.1:{wire.port}"))
        with watching(home) as service:
            service.until(lambda: _count(service, "worker joined") >= WORKERS, "the workers have joined")
            # With nothing to do the engine looks once a second; by its first connection it hears of everything.
            wire.cut_first()
            shutil.copytree(originals, home.drop(), dirs_exist_ok=True)
            for part in (len(expected) // 3, len(expected) * 2 // 3):
                service.until(lambda part=part: _count(service, "delivered") >= part, f"{part} deliveries")  # type: ignore[misc]
                wire.cut()
            service.until(lambda: _count(service, "batch done"), "all is done")
            assert service.stop() == 0
            events = service.events()

    check(home, events, expected)
    assert _count_of(events, "attempt failed") == _count_of(events, "engine failed") == 0


def test_a_service_that_is_killed_leaves_nothing_that_is_made_twice(
    home: Home, originals: Path, expected: dict[str, bytes]
) -> None:
    """Workers outlive the service; what they still make for the dead one is published by nobody."""
    shutil.copytree(originals, home.drop(), dirs_exist_ok=True)
    delivered: list[dict[str, Any]] = []
    for part in (len(expected) // 4, len(expected) // 2):
        with watching(home, log=f"{part}.log") as service:
            service.until(lambda part=part: len(list(home.out().rglob("*.jpg"))) >= part, f"{part} deliveries")  # type: ignore[misc]
            service.kill()
        delivered += [event for event in service.events() if event["event"] == "delivered"]

    done = sweep(home)

    assert done.status == 1, done.errors
    assert home.delivered() == expected
    outputs = [event["output"] for event in (*delivered, *done.events) if event["event"] == "delivered"]
    assert len(outputs) == len(set(outputs))
    assert not list(home.root.rglob(".lanternslide-*"))


def _count(service: Watching, event: str) -> int:
    return _count_of(service.events(), event)


def _count_of(events: list[dict[str, Any]], event: str) -> int:
    return [found["event"] for found in events].count(event)
