"""What an order costs: with processes of this machine, with a cluster's workers, and with the bare engine.

    python -m tests.benchmarks.cluster [--orders 2000] [--workers 2] [--pictures 24] [--before REVISION]

Prints for each way milliseconds an order when many are given at once, the median of one given alone, and processor time
of the service, the scheduler and the workers. Then a sweep of pictures of 24 megapixels by both executors; and, with
--before, the local sweep of this code against that of another revision, in turns.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psutil
from distributed import Client

from lanternslide.workers.cluster import Cluster
from lanternslide.workers.executor import Executor
from lanternslide.workers.pool import Pool
from tests.support.catalogue import numbered
from tests.support.cluster import ClusterOfProcesses, settings_for
from tests.support.executors import MISBEHAVING, failure_of, order, settings_in
from tests.support.misbehaving import double
from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, Home, make_home

ROOT = Path(__file__).resolve().parents[2]
ALONE = 50
"""Orders that are given one after the other."""

ROUNDS = 5
"""Sweeps with each code, in turns."""


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--orders", type=int, default=2000, help="orders given at once")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--pictures", type=int, default=24, help="pictures of 24 megapixels; 0: none")
    parser.add_argument("--before", help="a revision to compare the local sweep with")
    options = parser.parse_args()
    os.environ["LANTERNSLIDE_HANGING"] = tempfile.gettempdir()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        print_orders(folder, options.orders, options.workers)
        if options.pictures:
            print_sweeps(folder, options.pictures, options.workers)
        if options.before:
            print_before(folder, options.before)


@contextmanager
def cluster_in(folder: Path, workers: int) -> Iterator[ClusterOfProcesses]:
    """Run a cluster meanwhile."""
    folder.mkdir()
    cluster = ClusterOfProcesses(folder)
    try:
        cluster.start_scheduler()
        cluster.start_workers(workers)
        yield cluster
    finally:
        cluster.close()


def print_orders(folder: Path, number: int, workers: int) -> None:
    """Print what orders cost that do nothing."""
    print(f"{number} orders that do nothing, {workers} workers\n")
    print("| way | ms an order | one alone, ms | processor ms: service | scheduler | workers |")
    print("|---|---|---|---|---|---|")
    pool = Pool(workers, lambda _news: None, MISBEHAVING)
    print_way("local", number, by_executor(pool), {})
    pool.close()
    with cluster_in(folder / "orders", workers) as cluster:
        settings = settings_for(settings_in(folder), cluster.executor)
        executor = Cluster(settings, "0123456789ab", lambda _news: None, MISBEHAVING)
        while executor.slots < workers:
            time.sleep(0.05)
        ids = {"scheduler": [cluster.scheduler_id()], "workers": cluster.processes()}
        print_way("cluster", number, by_executor(executor), ids)
        executor.close()
        with Client(f"tcp://127.0.0.1:{cluster.port}", set_as_default=False) as client:
            print_way("the bare engine", number, by_engine(client), ids)


Way = Callable[[int], None]


def by_executor(executor: Executor) -> Way:
    """Return how so many orders are done by an executor."""

    def do(number: int) -> None:
        answers = [executor.submit(order("double", index)) for index in range(number)]
        for answer in answers:
            assert not failure_of(answer.result(600))

    do(20)  # all workers are there and have loaded everything
    return do


def by_engine(client: Any) -> Way:
    """Return how so many tasks are done by the engine alone."""

    def do(number: int) -> None:
        futures = [client.submit(double, index, pure=False) for index in range(number)]
        client.gather(futures)

    do(20)
    return do


def print_way(name: str, number: int, do: Way, ids: dict[str, list[int]]) -> None:
    """Print what one way costs."""
    groups = [[os.getpid()], ids.get("scheduler", []), ids.get("workers", [])]
    before = [busy(group) for group in groups]
    began = time.perf_counter()
    do(number)
    seconds = time.perf_counter() - began
    spent = [busy(group) - then for group, then in zip(groups, before, strict=True)]
    alone = []
    for _ in range(ALONE):
        began = time.perf_counter()
        do(1)
        alone.append(time.perf_counter() - began)
    shares = " | ".join(f"{1000 * part / number:.2f}" if part else "" for part in spent)
    print(f"| {name} | {1000 * seconds / number:.2f} | {1000 * statistics.median(alone):.1f} | {shares} |", flush=True)


def busy(ids: list[int]) -> float:
    """Return the processor time of processes so far, seconds."""
    return sum(sum(psutil.Process(number).cpu_times()[:2]) for number in ids)


def print_sweeps(folder: Path, number: int, workers: int) -> None:
    """Print what a sweep of large pictures takes with both executors, in turns."""
    picture = save_jpeg(folder / "large.jpg", 6000, 4000).read_bytes()
    originals = folder / "originals"
    originals.mkdir()
    for index in range(number):
        (originals / f"skerry-{index:03d}.jpg").write_bytes(numbered(picture, index))
    took: dict[str, list[float]] = {"local": [], "cluster": []}
    with cluster_in(folder / "sweeps", workers) as cluster:
        for turn in range(3):
            for kind, executor in (("local", "local"), ("cluster", cluster.executor)):
                home = home_in(folder / f"{kind}-{turn}", originals, executor, workers)
                took[kind].append(swept(home, ROOT / "service"))
    for kind, seconds in took.items():
        print(f"\n{number} pictures of 24 megapixels to two places, {kind}: {statistics.median(seconds):.1f} s", end="")
    ratio = statistics.median(took["cluster"]) / statistics.median(took["local"])
    print(f"\ncluster / local: {ratio:.2f} (all: {took})")


def home_in(root: Path, originals: Path, executor: str, workers: int) -> Home:
    """Return a home with these originals."""
    root.mkdir()
    home = make_home(root, PLAIN.replace("workers = 2", f'workers = {workers}\nexecutor = "{executor}"'))
    shutil.copytree(originals, home.drop(), dirs_exist_ok=True)
    return home


def swept(home: Home, code: Path) -> float:
    """Return how long a sweep takes with the code in a folder, in seconds."""
    began = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "lanternslide", "--config", str(home.config), "sweep"],
        env={**os.environ, "PYTHONPATH": str(code)}, cwd=home.root, capture_output=True, check=True,
    )  # fmt: skip
    return time.perf_counter() - began


def print_before(folder: Path, revision: str) -> None:
    """Print how the local sweep compares with that of another revision, in turns."""
    before = folder / "before"
    subprocess.run(["git", "worktree", "add", "--quiet", "--detach", str(before), revision], cwd=ROOT, check=True)
    try:
        small, large = folder / "small", folder / "large"
        for kind, size, number in ((small, (90, 60), 300), (large, (6000, 4000), 8)):
            kind.mkdir()
            picture = save_jpeg(folder / f"{kind.name}.jpg", *size).read_bytes()
            for index in range(number):
                (kind / f"skerry-{index:03d}.jpg").write_bytes(numbered(picture, index))
            compare(folder, kind, before, number)
    finally:
        subprocess.run(["git", "worktree", "remove", "--force", str(before)], cwd=ROOT, check=True)


def compare(folder: Path, originals: Path, before: Path, number: int) -> None:
    """Print a ratio for one kind of original."""
    took: dict[str, list[float]] = {"before": [], "now": []}
    for turn in range(ROUNDS):
        for kind, code in (("before", before / "service"), ("now", ROOT / "service")):
            home = home_in(folder / f"{originals.name}-{kind}-{turn}", originals, "local", 2)
            took[kind].append(swept(home, code))
    ratio = statistics.median(took["now"]) / statistics.median(took["before"])
    print(f"{number} {originals.name} pictures, local sweep, now / before: {ratio:.2f} (all: {took})", flush=True)


if __name__ == "__main__":
    main()
