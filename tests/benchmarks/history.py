"""The records of many deliveries: `history` and `status`, against the same rows merely read and written.

Run it with ``python -m tests.benchmarks.history [--records 100000] [--rounds 3]``. A day has a hundred originals with
two deliveries each; 1 in 100 has a doubt, 1 in 50 was withdrawn, 1 in 200 is no longer asked for; 1 in 500 originals is
held. All of them lie in the drop folder, as empty files. `floor` reads the rows with sqlite3 and writes them to a file,
in a process of its own; `walk` lists the drop folder. Times are from the start of a process to its end; `start` is that
of a command that only prints its help. Medians of the rounds, interleaved.
"""

from __future__ import annotations

import argparse
import os
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

from lanternslide.ledger import Ledger
from lanternslide.records.record import Clipped, Halo, OriginalFile, Record, Spread
from tests.support.service import PLAIN, Home, make_home

FLOOR = """
import sqlite3, sys
out = sys.stdout
for (record,) in sqlite3.connect(f"file:{sys.argv[1]}?mode=ro", uri=True).execute("SELECT record FROM delivery"):
    out.write(record + "\\n")
"""
WALK = """
import os, sys
for _, _, names, _ in os.fwalk(sys.argv[1]):
    pass
"""
LAST = datetime(2026, 11, 25, 12, tzinfo=UTC)
RECIPE = '{"size": {"kind": "long_edge", "values": [1600]}, "quality": 90, "chroma": "4:4:4", "sharpening": "auto"}'
PLACES = {"portfolio": 1050, "journal": 1600}


def time_of(index: int) -> str:
    """Return when the original with this number, counted from the newest, was delivered."""
    return (LAST - timedelta(days=index // 100, seconds=72 * (index % 100))).isoformat(timespec="seconds")


def record(index: int, place: str, original: str) -> Record:
    """Return a record such as a worker's figures make."""
    share = index % 997 / 997
    width = PLACES[place]
    return Record(
        original=original, photographer="ida", destination=place, density=1, state="delivered",
        output=f"/srv/pictures/out/ida/{place}/{original}", digest=f"{index:064x}", width=width, height=width * 2 // 3,
        bytes=150_000 + index, quality=90, quality_by="config", chroma="4:4:4",
        original_file=OriginalFile(width=6000, height=4000, bits=8, profile="Adobe RGB (1998)",
                                   bytes=12_000_000 + index, digest=f"{index:064x}"),
        strength=0.8 + share, rungs=(width,), delta_e=Spread(mean=0.5 + share / 7, p99=2 + share / 3),
        acutance=1.3 + share / 11, halo=Halo(light=1 + share / 3, dark=2 + share / 7),
        tone_shift=Spread(mean=0.05 + share / 13, p99=0.5 + share / 17), out_of_gamut=share / 100,
        clipped=Clipped(shadows=share / 300, highlights=share / 700),
        doubts=("The original has no colour profile, so sRGB was assumed.",) if index % 100 == 0 else (),
        seconds=1.2 + share, peak_mib=170 + share, plan=3, version="0.1.0",
    )  # fmt: skip


def fill(home: Home, originals: int) -> None:
    """Write the ledger and the drop folder."""
    (home.root / "state").mkdir()
    with Ledger(home.root / "state"):
        pass
    with closing(sqlite3.connect(home.root / "state" / "ledger.sqlite")) as connection:
        connection.executemany(
            "INSERT INTO original (id, photographer, picture, path, size, mtime_ns, inode, digest, state, reason, "
            "reason_key) VALUES (?, 'ida', ?, ?, ?, ?, ?, ?, ?, ?, ?)", _originals(home.drop(), originals),
        )  # fmt: skip
        connection.executemany(
            "INSERT INTO delivery (original, destination, density, wanted, state, made_from, recipe, output, "
            "output_size, output_digest, record, delivered_at, place, about) "
            "VALUES (?, ?, 1, ?, ?, 'd', ?, ?, ?, ?, ?, ?, ?, '{}')", _deliveries(originals),
        )  # fmt: skip
        connection.commit()


def _originals(drop: Path, number: int) -> Iterator[tuple[object, ...]]:
    for index in range(number):
        name = name_of(index)
        (drop / name).parent.mkdir(exist_ok=True)
        (drop / name).touch()
        held = index % 500 == 499
        state = ("held", "The file is cut off.", "cut_off") if held else ("delivered", None, None)
        yield (number - index, name.encode(), name.encode(), 0, 10**18 + index, index, f"{index:064x}", *state)


def _deliveries(number: int) -> Iterator[tuple[object, ...]]:
    for index in reversed(range(number)):
        for place in PLACES:
            made = record(index, place, name_of(index))
            withdrawn = index % 50 == 7
            output = (None,) * 3 if withdrawn else (made.output.encode(), made.bytes, made.digest)  # type: ignore[union-attr]
            yield (
                number - index, place, int(index % 200 != 3), "withdrawn" if withdrawn else "delivered", RECIPE,
                *output, made.to_line(), time_of(index), output[0],
            )  # fmt: skip


def name_of(index: int) -> str:
    """Return the path of an original below the drop folder; a hundred to a folder."""
    return f"islands-{index // 100:04d}/north-stack-{index:06d}.jpg"


def timed(command: list[str], home: Home) -> tuple[float, float]:
    """Return the seconds that a command took, and the most memory that any command so far took, MiB."""
    environment = {**os.environ, "PYTHONPATH": "service"}
    with (home.root / "written").open("wb") as stream:
        started = time.perf_counter()
        subprocess.run(command, env=environment, stdout=stream, check=False)
        seconds = time.perf_counter() - started
    return seconds, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--records", type=int, default=100_000)
    parser.add_argument("--rounds", type=int, default=3)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        home = make_home(Path(folder), PLAIN)
        fill(home, arguments.records // len(PLACES))
        database = home.root / "state" / "ledger.sqlite"
        print(f"{arguments.records} records; the ledger has {database.stat().st_size / 1e6:.0f} MB", flush=True)
        command = [sys.executable, "-m", "lanternslide", "--config", str(home.config)]
        day = LAST.date().isoformat()
        commands = {
            "floor": [sys.executable, "-c", FLOOR, str(database)],
            "walk": [sys.executable, "-c", WALK, str(home.drop())],
            "start": [*command, "history", "--help"],
            "history --json": [*command, "history", "--json"],
            "history --json --since (last day)": [*command, "history", "--json", "--since", day],
            "history": [*command, "history"],
            "status": [*command, "status"],
        }
        taken: dict[str, list[float]] = {name: [] for name in commands}
        peaks = {}
        for _ in range(arguments.rounds):
            for name, what in commands.items():
                seconds, peaks[name] = timed(what, home)
                taken[name].append(seconds)
        for name, times in taken.items():
            print(f"{name:34s} {median(times):5.2f} s")
        print(f"the most memory that any of them took: {max(peaks.values()):.0f} MiB")


if __name__ == "__main__":
    main()
