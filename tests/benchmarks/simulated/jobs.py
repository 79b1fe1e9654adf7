"""What a worker takes for a survey and a delivery: the worker's own functions in warm processes of their own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections import defaultdict
from pathlib import Path

from lanternslide.records import Fingerprint, Job, JobDone, Survey, SurveyTask
from lanternslide.worker import make, survey
from lanternslide.workers.executor import Order
from lanternslide.workers.pool import Pool
from tests.support.catalogue import numbered
from tests.support.chain import recipe, task

__all__ = ["job_times", "start_seconds"]

ROUNDS = 30
"""Pictures that each process makes, after one that is not counted."""

LONG_EDGE = 1050


def job_times(picture: Path, folder: Path, processes: int) -> dict[str, list[float]]:
    """Return the seconds of each survey and each delivery, made by so many *processes* at once; also the busy ones."""
    content = picture.read_bytes()
    for index in range(ROUNDS + 1):
        (folder / f"{index}.jpg").write_bytes(numbered(content, index))
    environment = {**os.environ, "PYTHONPATH": f"service{os.pathsep}."}
    environment |= {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "VIPS_CONCURRENCY": "1"}  # as workers have it
    running = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.benchmarks.simulated.jobs", str(folder), str(which)],
            env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )
        for which in range(processes)
    ]  # fmt: skip
    for process in running:  # each has loaded everything
        assert process.stdout is not None
        process.stdout.readline()
    for process in running:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    found: dict[str, list[float]] = defaultdict(list)
    for process in running:
        for name, seconds in json.loads(process.communicate()[0]).items():
            found[name] += seconds
    return found


def start_seconds(picture: Path) -> float:
    """Return how long a new worker takes to its first answer, in seconds, a survey included."""
    began = time.perf_counter()
    pool = Pool(1, lambda _news: None)
    try:
        pool.submit(Order(key=("ida", picture), task=_survey_task(picture), timeout=60)).result(60)
        return time.perf_counter() - began
    finally:
        pool.close()


def _survey_task(original: Path) -> SurveyTask:
    fingerprint = Fingerprint.of(original.stat())
    return SurveyTask(root=original.parent, path=original, fingerprint=fingerprint, max_megapixels=1000)


def _once(original: Path, which: int) -> dict[str, float]:
    """Return the seconds of a survey and a delivery, and how many of them the processor was busy."""
    began, busy = time.perf_counter(), time.process_time()
    found = survey(_survey_task(original))
    surveyed, busy_surveyed = time.perf_counter(), time.process_time()
    assert isinstance(found, Survey), found
    temporary = original.with_name(f".{original.name}-{which}.part")
    fingerprint = Fingerprint.of(original.stat())
    job = Job(
        original=1, photographer="ida", root=original.parent, path=original, fingerprint=fingerprint, survey=found,
        deliveries=(task(recipe(LONG_EDGE), temporary),),
    )  # fmt: skip
    prepared, busy_prepared = time.perf_counter(), time.process_time()
    answer = make(job)
    ended, busy_ended = time.perf_counter(), time.process_time()
    assert isinstance(answer, JobDone), answer
    temporary.unlink()
    return {
        "survey": surveyed - began,
        "make": ended - prepared,
        "survey busy": busy_surveyed - busy,
        "make busy": busy_ended - busy_prepared,
    }


def main(folder: Path, which: int) -> None:
    """Make each picture of *folder* once told to go, and print what each has taken."""
    first, *paths = sorted(folder.glob("*.jpg"))
    _once(first, which)
    print("ready", flush=True)
    sys.stdin.readline()
    found = [_once(path, which) for path in paths]
    print(json.dumps({name: [times[name] for times in found] for name in found[0]}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
