"""A million pictures on 1 to 1,000 workers: the real ledger, measured times, a simulated clock.

Run it with ``python -m tests.benchmarks.simulation [--pictures 1000000] [--measured FILE]``. What is measured is kept
in FILE and taken from there the next time, part by part (``ledger``, ``jobs``, ``service``, ``checks``; delete one to
measure it again), so that the simulation can be run anew with other figures in minutes.

- ``ledger``: the real ledger is written as the service writes it (`simulated/replay.py`), in blocks, and is asked what
  the service asks of all that it knows. Between the blocks are copies of rows; with ``--whole`` there are none, and a
  million takes more than an hour.
- ``jobs``: surveys and deliveries of the scenario's picture of 24 megapixels by as many processes as cores.
- ``service``: the main thread of the real service over small pictures, phase by phase, with one worker.
- ``checks``: the real service over pictures of 24 megapixels with 1 and 2 workers against the simulation of the same.

A picture on its way then costs the main thread what its phases cost outside the ledger (`service`), what its ledger
calls cost with so many known (`ledger`), and `--overhead-ms` for each of its two orders.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import random
import tempfile
import time
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import replace
from itertools import cycle
from pathlib import Path
from statistics import fmean, median, quantiles
from typing import Any

from lanternslide.ledger import Ledger
from lanternslide.workers.executor import with_ahead
from tests.benchmarks.simulated.clock import Costs, Outcome, drops_over, simulate
from tests.benchmarks.simulated.example import CONFIG, PICTURE, example_in
from tests.benchmarks.simulated.jobs import job_times, start_seconds
from tests.benchmarks.simulated.replay import PHASES, Block, sampled, whole, write_ledger
from tests.benchmarks.simulated.service import drop_small, publishing_moments, run_service
from tests.support.catalogue import numbered
from tests.support.pictures import save_jpeg
from tests.support.service import make_home, watching

OVERHEAD_MS = 2.2
"""What an order costs the service's process with a cluster beyond what it does with the pool of this machine, as
`tests.benchmarks.cluster` measures it (2.6 and 0.4). Its threads take turns, so it is added to the main thread's."""

SCHEDULER_MS = 3.4
"""What an order costs the scheduler, measured there. dask's own word is "about 1ms of overhead" a task
(distributed.dask.org, front page); an order also tells of itself twice."""

STORAGE_MB_S = 110.0
"""What gigabit Ethernet carries of files, MB/s: 125 less what its protocols take (common practice)."""

READS = 2
"""A picture is read for its survey, and again for its delivery by what may be another machine."""

SIZES = (1, 50)
"""Pictures in a fresh drop."""

SMALL = 400
"""Small pictures by which the main thread is measured."""


def machine() -> str:
    """Return what this was measured on."""
    models = [line for line in Path("/proc/cpuinfo").read_text().splitlines() if line.startswith("model name")]
    model = models[0].partition(": ")[2] if models else platform.processor()
    return f"{len(os.sched_getaffinity(0))} cores of {model}, load {os.getloadavg()[0]:.1f}, {platform.platform()}"


# Measuring


def measure_ledger(options: argparse.Namespace, keep: Callable[[dict[str, Any]], None]) -> dict[str, Any]:
    """Write the ledger, and *keep* what is known after each block."""

    def tell(block: Block, found: dict[str, Any]) -> None:
        cost = " + ".join(f"{1000 * seconds:.2f}" for seconds in block.seconds)
        size = f"{block.written / 1024:.0f} KiB written, {block.size / 2**20:.0f} MiB"
        print(f"{time.strftime('%H:%M:%S')} {block.pictures:,} pictures: {cost} ms, {size}", flush=True)
        keep(found)

    blocks = whole(options.pictures, options.blocks) if options.whole else sampled(options.pictures, options.sample)
    with tempfile.TemporaryDirectory(dir=options.folder) as folder:
        example = example_in(Path(folder))
        (Path(folder) / "state").mkdir()
        return write_ledger(Path(folder) / "state", example, blocks, tell)


def measure_jobs() -> dict[str, Any]:
    """Have one process, and then as many as cores, make pictures of 24 megapixels."""
    found: dict[str, Any] = {"bytes": PICTURE.stat().st_size, "start": start_seconds(PICTURE)}
    for processes in sorted({1, len(os.sched_getaffinity(0))}):
        with tempfile.TemporaryDirectory() as folder:
            found[str(processes)] = job_times(PICTURE, Path(folder), processes)
    return found


def measure_service(where: Path) -> dict[str, Any]:
    """Run the service over small pictures."""
    with tempfile.TemporaryDirectory(dir=where) as folder:
        home = make_home(Path(folder), CONFIG.replace("workers = 2", "workers = 1"))
        picture = save_jpeg(Path(folder) / "small.jpg", 90, 60).read_bytes()
        drop_small(home, picture, SMALL, numbered)
        return run_service(home).figures()


def check(workers: int, pictures: int, where: Path) -> dict[str, Any]:
    """Return how many seconds the real service takes from its first delivery of 24 megapixels to its last.

    With them come the seconds of each delivery as its record has them: the machine may be busy with other things, too.
    """
    with tempfile.TemporaryDirectory(dir=where) as folder:
        home = make_home(Path(folder), CONFIG.replace("workers = 2", f"workers = {workers}"))
        content = PICTURE.read_bytes()
        for index in range(pictures):
            (home.drop() / f"{index}.jpg").write_bytes(numbered(content, index))
        with watching(home) as service:
            while len(publishing_moments(home.out())) < pictures:
                if service.process.poll() is not None:
                    raise RuntimeError("the service ended")
                time.sleep(0.5)
            service.stop()
        moments = publishing_moments(home.out())
        ledger = Ledger.to_read(home.root / "state")
        assert ledger is not None
        with ledger:
            makes = [json.loads(line)["seconds"] for line in ledger.reading.record_lines()]
    return {"pictures": pictures, "seconds": moments[-1] - moments[0], "make": makes}


# Simulating


def drawn(times: list[float], dice: random.Random, factor: float) -> Callable[[], float]:
    """Return what draws one of the measured times, a *factor* as long."""
    scaled = [factor * seconds for seconds in times]
    return lambda: dice.choice(scaled)


def undisturbed(blocks: list[dict[str, Any]]) -> list[float]:
    """Return what a picture of each block takes in the ledger where nobody else wants the disk, in seconds.

    That is the block's own processor time, and the lower quartile over all blocks of what a picture waits for the disk.
    """
    waits = sorted(max(0.0, sum(block["seconds"]) - block["processor"]) for block in blocks)
    return [block["processor"] + waits[len(waits) // 4] for block in blocks]


def phase_cost(data: dict[str, Any], number: int) -> Callable[[int], float]:
    """Return what a phase costs the main thread with so many pictures known, in seconds."""
    phase = data["service"]["phases"][PHASES[number]]
    outside = phase["busy"] + phase["waits"]
    blocks = data["ledger"]["blocks"]
    ends = [block["pictures"] for block in blocks]
    # The first two phases are not written through to the disk; what is waited for, the third one waits for.
    before = [sum(block["seconds"][:2]) for block in blocks]
    in_ledger = [
        whole - others if number == 2 else block["seconds"][number]
        for whole, others, block in zip(undisturbed(blocks), before, blocks, strict=True)
    ]
    costs = [outside + seconds for seconds in in_ledger]
    return lambda known: costs[min(bisect_left(ends, known), len(costs) - 1)]


def jobs_of(data: dict[str, Any]) -> dict[str, list[float]]:
    """Return the times of jobs with as many processes as cores."""
    found: dict[str, list[float]] = data["jobs"][max((key for key in data["jobs"] if key.isdigit()), key=int)]
    return found


def job_seconds(jobs: dict[str, list[float]]) -> float:
    """Return how long a worker is busy with one picture, in seconds."""
    return fmean(jobs["survey busy"]) + fmean(jobs["make busy"])


def costs_of(data: dict[str, Any], options: argparse.Namespace, mb_s: float | None) -> Costs:
    """Return the costs of the simulation.

    Jobs take the seconds that the processor was busy with as many processes as cores, as where each worker has a core.
    """
    dice = random.Random(1)
    jobs, service = jobs_of(data), data["service"]
    factor = options.job_s / job_seconds(jobs) if options.job_s else 1.0
    return Costs(
        survey=drawn(jobs["survey busy"], dice, factor),
        make=drawn(jobs["make busy"], dice, factor),
        take_in=phase_cost(data, 0),
        surveyed=phase_cost(data, 1),
        made=phase_cost(data, 2),
        begin=service["begin"] + options.overhead_ms / 1000,
        round=service["round"],
        scheduler=options.scheduler_ms / 1000,
        read=data["jobs"]["bytes"] * READS / 2 / mb_s / 1e6 if mb_s else 0.0,
        start=data["jobs"]["start"],
        in_rounds=not options.at_once,
    )


def expected_seconds(data: dict[str, Any], options: argparse.Namespace, costs: Costs, workers: int) -> float:
    """Return about how long a backlog takes, in seconds, to spread drops over it."""
    job = options.job_s or job_seconds(jobs_of(data))
    main = fmean(phase(options.pictures) for phase in (costs.take_in, costs.surveyed, costs.made))
    return float(options.pictures * max(job / workers, 3 * main, 2 * costs.read, 2 * costs.scheduler))


def spread(seconds: list[float]) -> str:
    """Return median and 95th percentile."""
    if len(seconds) < 2:
        return "-"
    return f"{median(seconds):.1f} / {quantiles(seconds, n=20)[-1]:.1f}"


def row(workers: int, found: Outcome) -> str:
    """Return a row of the table."""
    shares = found.shares(workers)
    limit = max(shares, key=lambda name: shares[name])
    busy = " / ".join(f"{100 * share:.0f}" for share in shares.values())
    waited = " | ".join(spread(found.waited.get(size, [])) for size in SIZES)
    return f"| {workers:,} | {found.pictures / found.seconds * 3600:,.0f} | {busy} | {limit} | {waited} |"


def print_simulation(data: dict[str, Any], options: argparse.Namespace, mb_s: float | None) -> None:
    """Simulate each number of workers and print a table."""
    storage = f"storage of {mb_s:.0f} MB/s" if mb_s else "storage without a limit"
    orders = f"{options.overhead_ms} ms more for the main thread, {options.scheduler_ms} ms for the scheduler an order"
    way = "one answer a round, surveys first" if options.at_once else "rounds as in the service"
    job = f"{options.job_s or 'as measured'} s of work a picture"
    ahead = f"orders ahead: {'as the service has them' if options.ahead is None else options.ahead}"
    print(f"\n{options.pictures:,} pictures, {job}, {storage}; {orders}; {way}; {ahead}\n")
    print("| workers | pictures / h | busy, %: main thread / scheduler / storage / workers | limit", end=" ")
    print("| " + " | ".join(f"drop of {size}, s: median / p95" for size in SIZES) + " |")
    print("|---|---|---|---|" + "---|" * len(SIZES))
    for workers in options.workers:
        costs = costs_of(data, options, mb_s)
        over = expected_seconds(data, options, costs, workers)
        drops = drops_over(over, SIZES, options.drops, random.Random(2))
        ahead = with_ahead(workers) - workers if options.ahead is None else options.ahead
        found = simulate(costs, workers=workers, backlog=options.pictures, drops=drops, ahead=ahead)
        print(row(workers, found), flush=True)


def print_ledger(data: dict[str, Any]) -> None:
    """Print how the ledger grows, and what it takes to be asked."""
    ledger = data["ledger"]
    print("\n| known | MB | a picture, ms in the ledger: taken in + surveyed + made | of it processor", end="")
    print(" | undisturbed | KiB written a picture | pictures a second, undisturbed |\n|---|---|---|---|---|---|---|")
    blocks = ledger["blocks"]
    shown = [*blocks[:1], *blocks[1::2]] if len(blocks) < 50 else blocks[:: len(blocks) // 10]
    quiet = {block["pictures"]: seconds for block, seconds in zip(blocks, undisturbed(blocks), strict=True)}
    for block in shown:
        each = " + ".join(f"{1000 * part:.2f}" for part in block["seconds"])
        alone = quiet[block["pictures"]]
        print(f"| {block['pictures']:,} | {block['size'] / 1e6:,.0f} | {each}", end=" ")
        written = f"{block['written'] / 1024:.0f}"
        print(f"| {1000 * block['processor']:.2f} | {1000 * alone:.2f} | {written} | {1 / alone:.0f} |")
    marks = sorted(ledger["asked"], key=int)
    known = " | ".join(f"{int(mark):,}" for mark in marks)
    print(f"\n| question, ms with so many known | when | {known} |\n|---|---|" + "---|" * len(marks))
    print("| opening | at the start | " + " | ".join(f"{1000 * ledger['opened'][mark]:.1f}" for mark in marks) + " |")
    for answers in zip(*(ledger["asked"][mark] for mark in marks), strict=True):
        times = " | ".join(f"{1000 * answer['seconds']:.1f}" for answer in answers)
        print(f"| {answers[0]['name']} | {answers[0]['when']} | {times} |")


def print_service(data: dict[str, Any]) -> None:
    """Print what the main thread and the workers take."""
    service, jobs = data["service"], data["jobs"]
    parts = ", ".join(
        f"{phase} {1000 * found['busy']:.2f} + {1000 * found['waits']:.2f} + {1000 * found['ledger']:.2f}"
        for phase, found in service["phases"].items()
    )
    print(f"\nmain thread, ms a call, busy + waits for the disk + in the ledger: {parts};", end=" ")
    print(f"an order {1000 * service['begin']:.2f}, a round {1000 * service['round']:.2f}")
    for processes in sorted(key for key in jobs if key.isdigit()):
        each = ", ".join(f"{name} {1000 * median(seconds):.0f} ms" for name, seconds in jobs[processes].items())
        print(f"24 megapixels, {jobs['bytes'] / 1e6:.1f} MB, by {processes} processes at once: {each}")
    print(f"a worker's start {jobs['start']:.2f} s")


def print_checks(data: dict[str, Any], options: argparse.Namespace) -> None:
    """Print the real service beside the simulation of it."""
    print(
        "\n| workers | pictures | deliveries alone, s | real, s | simulated, s | of real |\n|---|---|---|---|---|---|"
    )
    as_it_is = {"overhead_ms": 0.0, "scheduler_ms": 0.0, "job_s": 0.0, "at_once": False}
    local = argparse.Namespace(**{**vars(options), **as_it_is})
    for workers, real in data["checks"].items():
        makes = replace(costs_of(data, local, None), make=iter(cycle(real["make"])).__next__)
        found = simulate(makes, workers=int(workers), backlog=real["pictures"])
        simulated = found.seconds - found.first
        alone = sum(real["make"]) / int(workers)
        times = f"{alone:.1f} | {real['seconds']:.1f} | {simulated:.1f} | {simulated / real['seconds']:.2f}"
        print(f"| {workers} | {real['pictures']} | {times} |")


def options_of() -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pictures", type=int, default=1_000_000)
    parser.add_argument("--sample", type=int, default=5_000, help="pictures in each block of the ledger")
    parser.add_argument("--whole", action="store_true", help="write the ledger for every picture, none are copied")
    parser.add_argument("--blocks", type=int, default=200, help="in which it is measured then")
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2, 4, 10, 30, 100, 300, 1000])
    parser.add_argument("--measured", type=Path, help="a file for what is measured, to be taken from there next time")
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()), help="the disk to measure on")
    parser.add_argument("--job-s", type=float, default=0.0, help="of a worker, for one picture; 0: as measured here")
    parser.add_argument("--overhead-ms", type=float, default=OVERHEAD_MS, help="of an order, for the main thread")
    parser.add_argument("--scheduler-ms", type=float, default=SCHEDULER_MS, help="of an order, for the scheduler")
    parser.add_argument("--storage-mb-s", type=float, nargs="*", default=[0.0, STORAGE_MB_S], help="0: without a limit")
    parser.add_argument("--ahead", type=int, help="orders beyond one a worker; without it, as the service has them")
    parser.add_argument(
        "--at-once", action="store_true", help="one answer a round, surveys first: not the service's way"
    )
    parser.add_argument("--drops", type=int, default=300, help="fresh drops of each size")
    parser.add_argument(
        "--check", type=int, default=200, help="pictures of 24 megapixels for the real service; 0: none"
    )
    return parser.parse_args()


def main() -> None:
    """Measure what is not yet measured, simulate, print."""
    options = options_of()
    kept: dict[str, Any] = {}
    if options.measured is not None and options.measured.exists():
        kept = json.loads(options.measured.read_text("utf-8"))

    def keep(found: dict[str, Any]) -> None:
        if options.measured is not None:
            options.measured.write_text(json.dumps(found), "utf-8")

    def part(name: str, measure: Callable[[], Any]) -> None:
        if name not in kept:
            kept[name] = {"machine": machine()} | measure()
            keep(kept)

    part("jobs", measure_jobs)
    if options.check:
        part("checks", lambda: {str(n): check(n, options.check, options.folder) for n in (1, 2)})
    part("service", lambda: measure_service(options.folder))
    part("ledger", lambda: measure_ledger(options, lambda found: keep({**kept, "ledger": found})))
    for name in kept:
        print(f"{name}: measured on {kept[name].pop('machine', 'unknown')}")
    print_service(kept)
    if options.check:
        print_checks(kept, options)
    print_ledger(kept)
    for mb_s in options.storage_mb_s:
        print_simulation(kept, options, mb_s or None)


if __name__ == "__main__":
    main()
