"""Killing the service and its workers at random moments: in the end it is as if nothing had happened."""

from __future__ import annotations

import contextlib
import random
import time
from pathlib import Path

import psutil
import pytest

from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, Home, make_home, sweep, watching

PICTURES = 10


def home_with_pictures(root: Path, config: str = PLAIN) -> Home:
    """Make a home whose drop folder holds a handful of pictures, the same each time."""
    root.mkdir()
    home = make_home(root, config)
    for number in range(PICTURES):
        save_jpeg(home.drop() / f"picture-{number}.jpg", 1500, 1000, seed=number)
    return home


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Return what an undisturbed sweep delivers."""
    home = home_with_pictures(tmp_path_factory.mktemp("undisturbed") / "home")
    assert sweep(home).status == 0
    return home.delivered()


def kill_service(root: Path, kills: int, seed: int) -> Home:
    """Start the service and kill it, so many times, each after a moment by chance; then let it end its work."""
    chance = random.Random(seed)
    home = home_with_pictures(root)
    for _ in range(kills):
        with watching(home) as service:
            time.sleep(chance.uniform(0.2, 1.6))
            service.kill()
    assert sweep(home).status == 0
    return home


def test_a_service_that_is_killed_loses_and_repeats_nothing(tmp_path: Path, undisturbed: dict[str, bytes]) -> None:
    """Killed ten times in the middle: equal bytes, nothing missing, nothing twice, no temporary files."""
    assert kill_service(tmp_path / "home", 10, seed=1).delivered() == undisturbed


@pytest.mark.long
@pytest.mark.parametrize("seed", range(2, 12))
def test_a_service_that_is_killed_often(tmp_path: Path, undisturbed: dict[str, bytes], seed: int) -> None:
    """The same, a hundred times in all."""
    assert kill_service(tmp_path / "home", 10, seed).delivered() == undisturbed


def test_workers_that_are_killed_cost_attempts_only(tmp_path: Path, undisturbed: dict[str, bytes]) -> None:
    """Workers killed in mid-job again and again: every picture is delivered once, the service goes on."""
    chance = random.Random(1)
    home = home_with_pictures(tmp_path / "home", PLAIN.replace("workers = 2", "workers = 2\nattempts = 50"))
    with watching(home) as service:
        main = psutil.Process(service.process.pid)

        def is_done() -> bool:
            return any(event["event"] == "batch done" for event in service.events())

        for number in range(12):
            # Every third one is killed while it starts, or whatever it is at; the others while they read an original.
            if number % 3 == 0:
                service.until(lambda: is_done() or _workers(main), "a worker")
                time.sleep(chance.uniform(0, 0.4))
                victims = _workers(main)
            else:
                service.until(lambda: is_done() or _readers(main, home.drop()), "a worker that reads", pause=0.005)
                victims = _readers(main, home.drop())
            for worker in victims[:1]:
                with contextlib.suppress(psutil.NoSuchProcess):
                    worker.kill()
        service.until(is_done, "the end")
        failed = [event for event in service.events() if event["event"] == "attempt failed"]
        assert failed, "no worker was killed in mid-job"
        service.until(lambda: len(home.delivered()) == len(undisturbed), "all deliveries")
        assert service.stop() == 0

    assert home.delivered() == undisturbed


def _workers(main: psutil.Process) -> list[psutil.Process]:
    """Return the worker processes."""
    found = []
    for child in main.children(recursive=True):
        with contextlib.suppress(psutil.NoSuchProcess):
            if "spawn_main" in " ".join(child.cmdline()):
                found.append(child)
    return found


def _readers(main: psutil.Process, folder: Path) -> list[psutil.Process]:
    """Return the workers that have a file of *folder* open."""
    return [worker for worker in _workers(main) if _reads(worker, folder)]


def _reads(worker: psutil.Process, folder: Path) -> bool:
    """Return whether a worker has a file of *folder* open."""
    with contextlib.suppress(psutil.NoSuchProcess, psutil.AccessDenied):
        return any(Path(file.path).is_relative_to(folder) for file in worker.open_files())
    return False
