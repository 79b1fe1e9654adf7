"""Many files: dropped at once in three ways, known at the start, a scan that changes nothing, and 200 real pictures.

Run it with ``python -m tests.benchmarks.scale [--files 10000] [--known 100000] [--pictures 200]`` (0 leaves a part
out). Files are small (90 × 60 pixels), so
that what is measured is the service and not the chain. `alone` is the same deliveries made one after the other by a
worker's functions in one process, divided by the number of workers; the service's time against it is what finding,
settling, the ledger and publishing cost. Memory is that of the main process at its peak. The 200 pictures are
the demo's of 24 megapixels, dropped at once; what their deliveries take alone is measured in as many processes as
workers.
"""

from __future__ import annotations

import argparse
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

import psutil

from tests.support.catalogue import numbered
from tests.support.chain import deliver, recipe
from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, Home, Watching, make_home, watching

WORKERS = 2
PICTURE = Path("demo_inbox/ida/kelp-ledges.jpg")
CONFIG = PLAIN.replace("settle_seconds = 0.1", "settle_seconds = 2").replace(
    'otherwise = ["portfolio", "journal"]', 'otherwise = ["club"]'
)


def originals(folder: Path, number: int) -> None:
    """Write so many small originals, no two the same."""
    folder.mkdir()
    first = save_jpeg(folder / "0.jpg", 90, 60)
    content = first.read_bytes()
    for index in range(1, number):
        (folder / f"{index}.jpg").write_bytes(numbered(content, index))


def copy(source: Path, drop: Path) -> None:
    """Copy each file, as a file manager does."""
    for path in source.iterdir():
        shutil.copyfile(path, drop / path.name)


def rename(source: Path, drop: Path) -> None:
    """Rename each file into the drop folder."""
    for path in source.iterdir():
        path.rename(drop / path.name)


def move_folder(source: Path, drop: Path) -> None:
    """Move the whole folder into the drop folder."""
    source.rename(drop / "moved")


def alone(folder: Path) -> float:
    """Return how long one process takes for one delivery, in seconds, the median's stand-in over 300 of them."""
    paths = sorted(folder.iterdir())[:300]
    deliver(paths[0], recipe(1920))
    started = time.perf_counter()
    for path in paths:
        deliver(path, recipe(1920))
    return (time.perf_counter() - started) / len(paths)


def peak_mib(process: int) -> float:
    """Return the peak resident size of a process, MiB (Linux)."""
    for line in Path(f"/proc/{process}/status").read_text().splitlines():
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1024
    return float("nan")


def wait_for(home: Home, number: int, service: Watching) -> None:
    """Wait until so many deliveries stand."""
    while sum(1 for _ in home.out().rglob("[!.]*.jpg")) < number:
        if service.process.poll() is not None:
            raise RuntimeError("the service ended")
        time.sleep(0.5)


def dropped(number: int) -> None:
    """Measure so many files dropped at once, in each way."""
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "originals"
        originals(source, 300)
        one = alone(source)
    print(f"one delivery alone: {one * 1000:.1f} ms; {number} by {WORKERS} workers: {one * number / WORKERS:.0f} s")
    for way in (copy, rename, move_folder):
        with tempfile.TemporaryDirectory() as folder:
            root = Path(folder) / "home"
            root.mkdir()
            home = make_home(root, CONFIG)
            source = Path(folder) / "originals"
            originals(source, number)
            with watching(home) as service:
                while not service.events():
                    time.sleep(0.05)
                started = time.perf_counter()
                way(source, home.drop())
                wait_for(home, number, service)
                seconds = time.perf_counter() - started
                peak = peak_mib(service.process.pid)
                assert service.stop() == 0
            ratio = seconds / (one * number / WORKERS)
            cost = f"{seconds:6.1f} s, {ratio:.2f} of alone"
            print(f"{way.__name__:12s} {number} files: {cost}, main process {peak:.0f} MiB", flush=True)


def pictures(number: int) -> None:
    """Measure the whole service over so many real pictures against their deliveries alone."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "home"
        root.mkdir()
        home = make_home(root, CONFIG.replace("box = [1920, 1080]", "long_edge = 1050"))
        source = Path(folder) / "originals"
        source.mkdir()
        content = PICTURE.read_bytes()
        for index in range(number):
            (source / f"{index}.jpg").write_bytes(numbered(content, index))
        for path in source.iterdir():  # read once, so that neither way finds them in memory and the other does not
            path.read_bytes()
        alone_seconds = alone_together(source)
        with watching(home) as service:
            while not service.events():
                time.sleep(0.05)
            started = time.perf_counter()
            move_folder(source, home.drop())
            wait_for(home, number, service)
            seconds = time.perf_counter() - started
            assert service.stop() == 0
    print(
        f"{number} pictures of 24 megapixels: {seconds:.1f} s, their deliveries alone by {WORKERS} processes "
        f"{alone_seconds:.1f} s: {seconds / alone_seconds:.2f}",
        flush=True,
    )


def alone_together(folder: Path) -> float:
    """Return how long as many processes as workers take for the deliveries of all files, in seconds."""
    command = [sys.executable, "-m", "tests.benchmarks.scale", "--share"]
    environment = {**os.environ, "PYTHONPATH": f"service{os.pathsep}."}
    environment |= {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "VIPS_CONCURRENCY": "1"}  # as workers have it
    processes = [
        subprocess.Popen([*command, str(folder), str(which)], env=environment, stdin=subprocess.PIPE,
                         stdout=subprocess.PIPE, text=True)
        for which in range(WORKERS)
    ]  # fmt: skip
    for process in processes:  # each has loaded everything
        assert process.stdout is not None
        process.stdout.readline()
    started = time.perf_counter()
    for process in processes:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    for process in processes:
        process.communicate()
    return time.perf_counter() - started


def share(folder: Path, which: int) -> None:
    """Make the deliveries of its share of the files, once told to go."""
    paths = sorted(folder.iterdir())[which::WORKERS]
    deliver(paths[0], recipe(1050))
    print("ready", flush=True)
    sys.stdin.readline()
    for path in paths:
        deliver(path, recipe(1050))


def known(number: int) -> None:
    """Measure a start and a scan with so many originals that are known and done."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "home"
        root.mkdir()
        home = make_home(root, CONFIG)
        for index in range(0, number, 1000):
            (home.drop() / str(index)).mkdir()
            for inner in range(min(1000, number - index)):
                (home.drop() / str(index) / f"{inner}.jpg").touch()
        with watching(home) as service:  # makes the ledger
            while not service.events():
                time.sleep(0.05)
            service.kill()
        fill(home)
        started = time.perf_counter()
        with watching(home) as service:
            while sum(event["event"] == "watching" for event in service.events()) < 2:  # one is the first start's
                time.sleep(0.02)
            ready = time.perf_counter() - started
            process = psutil.Process(service.process.pid)
            settled(process)
            looked = time.perf_counter() - started - 2.0  # settled() has watched it for two seconds
            print(f"start with {number} known originals: watching after {ready:.2f} s, scanned after {looked:.2f} s")
            before = process.cpu_times().user + process.cpu_times().system
            started = time.perf_counter()
            subprocess.run(
                [sys.executable, "-m", "lanternslide", "--config", home.config, "retry"],
                env={**os.environ, "PYTHONPATH": "service"}, check=True, capture_output=True,
            )  # fmt: skip
            settled(process)
            spent = process.cpu_times().user + process.cpu_times().system - before
            floor = looked_at(home.drop())
            what = f"{spent:.2f} s of processor time, {spent / floor:.1f} times asking for every file's state"
            print(f"a scan that changes nothing: {what}; peak {peak_mib(process.pid):.0f} MiB", flush=True)
            service.process.send_signal(signal.SIGTERM)
            service.process.wait(60)


def looked_at(folder: Path) -> float:
    """Return how long it takes merely to ask the system about every file, in seconds of processor time."""
    started = time.process_time()
    for _, _, _, descriptor in os.fwalk(folder):
        for entry in os.scandir(descriptor):
            entry.stat(follow_symlinks=False)
    return time.process_time() - started


def settled(process: psutil.Process) -> None:
    """Wait until a process does nothing any more."""
    idle = 0
    while idle < 4:
        before = process.cpu_times().user + process.cpu_times().system
        time.sleep(0.5)
        idle = idle + 1 if process.cpu_times().user + process.cpu_times().system - before < 0.02 else 0


def fill(home: Home) -> None:
    """Write into the ledger that everything in the drop folder is delivered."""
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        rows = []
        for path in home.drop().rglob("*.jpg"):
            status, relative = path.stat(), os.fsencode(path.relative_to(home.drop()))
            rows.append((relative, relative, status.st_size, status.st_mtime_ns, status.st_ino))
        connection.execute("DELETE FROM delivery")
        connection.execute("DELETE FROM original")
        connection.executemany(
            "INSERT INTO original (photographer, picture, path, size, mtime_ns, inode, digest, state) "
            "VALUES ('ida', ?, ?, ?, ?, ?, 'd', 'delivered')", rows,
        )  # fmt: skip
        connection.execute(
            "INSERT INTO delivery (original, destination, density, state, made_from, recipe, output, output_size, "
            "output_digest, record, delivered_at) SELECT id, 'club', 1, 'delivered', 'd', '{}', "
            "CAST('x' || id AS BLOB), 1, 'd', '{}', '2026-11-25T12:00:00+00:00' FROM original"
        )
        connection.commit()


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--known", type=int, default=100_000)
    parser.add_argument("--pictures", type=int, default=200)
    parser.add_argument("--share", nargs=2, metavar=("FOLDER", "WHICH"))
    arguments = parser.parse_args()
    if arguments.share:
        share(Path(arguments.share[0]), int(arguments.share[1]))
        return
    if arguments.known:
        known(arguments.known)
    if arguments.files:
        dropped(arguments.files)
    if arguments.pictures:
        pictures(arguments.pictures)


if __name__ == "__main__":
    main()
