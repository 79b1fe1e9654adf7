"""How long the chain takes against the floor and against ways through libvips; several destinations; two workers.

Run it with ``python -m tests.benchmarks.chain [ORIGINAL] [--rounds N] [--long-edge N ...]``.

The floor is what nobody can save: decoding the original with the fastest reader and encoding a JPEG of the final size;
next to it the same with Pillow's reader. The chain is decode, resize, sharpen at a fixed strength, colour, encode; a
full delivery adds the strength found for the picture, measuring, and metadata. Each timing runs in a fresh process with
one thread (libvips with two), the kinds interleaved; the table shows medians, ratios, and the process's peak memory.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from statistics import median
from typing import Any

from tests.benchmarks.peers import one_step_in_gamma, straight, tuned

ROOT = Path(__file__).resolve().parents[2]
DEFAULT = ROOT / "demo_inbox" / "ida" / "kelp-ledges.jpg"
LONG_EDGES = (1050, 2048)
QUALITY = 90


def floor(original: Path, long_edge: int) -> None:
    """Decode whole with the fastest reader, and encode a picture of the final size."""
    import simplejpeg  # noqa: PLC0415 - loaded before the clock starts

    encode_middle(simplejpeg.decode_jpeg(original.read_bytes()), long_edge)


def pillow(original: Path, long_edge: int) -> None:
    """Decode whole with Pillow, and encode a picture of the final size."""
    import numpy as np  # noqa: PLC0415
    from PIL import Image  # noqa: PLC0415

    with Image.open(original) as image:
        image.load()
        scale = long_edge / max(image.size)
        width, height = round(image.width * scale), round(image.height * scale)
        left, top = (image.width - width) // 2, (image.height - height) // 2
        encode_middle(np.asarray(image.crop((left, top, left + width, top + height))), long_edge)


def encode_middle(codes: Any, long_edge: int) -> None:
    """Encode pixels that are as hard to encode as the real ones: cut out of the middle, not resized."""
    from PIL import Image  # noqa: PLC0415

    scale = long_edge / max(codes.shape[:2])
    height, width = (round(edge * scale) for edge in codes.shape[:2])
    top, left = (codes.shape[0] - height) // 2, (codes.shape[1] - width) // 2
    part = Image.fromarray(codes[top : top + height, left : left + width])
    part.save(io.BytesIO(), "JPEG", quality=QUALITY, subsampling=0, optimize=True, progressive=True)


def chain(original: Path, long_edge: int) -> None:
    """Decode, resize, sharpen at a fixed strength, bring into sRGB, encode."""
    run(original, long_edge, whole=False)


def delivery(original: Path, long_edge: int) -> None:
    """Run the chain with the strength found for the picture, measure it, and carry the metadata over."""
    run(original, long_edge, whole=True)


def run(original: Path, *long_edges: int, whole: bool) -> None:
    """Make a delivery of *original* for each long edge, as the worker does."""
    from lanternslide.chain import decode, measure, plan_deliveries  # noqa: PLC0415
    from lanternslide.imaging.colour.working_space import working_space  # noqa: PLC0415
    from lanternslide.imaging.encode import decode_again, encode_jpeg  # noqa: PLC0415
    from lanternslide.imaging.reading.read import read_header  # noqa: PLC0415
    from lanternslide.metadata import Policy, Wishes, carry_metadata  # noqa: PLC0415
    from lanternslide.records import Rights  # noqa: PLC0415
    from tests.support.chain import recipe, task  # noqa: PLC0415

    header = read_header(original)
    space = working_space(header)
    plans = []
    for long_edge in long_edges:
        (plan,), _ = plan_deliveries([task(recipe(long_edge, quality=QUALITY), original)], header.width, header.height)
        if not whole:
            (rung,) = plan.rungs
            fixed = replace(rung.sharpening, amount=plan.default_amount)
            plan = replace(plan, rungs=(replace(rung, sharpening=fixed),))
        plans.append(plan)
    ways, _ = decode(header, space, plans)
    while ways:
        rendering = ways.pop(0).finish()
        jpeg = encode_jpeg(rendering.codes, quality=QUALITY, chroma="4:4:4", progressive=True, density=None)
        if whole:
            measure(rendering, decode_again(jpeg))
            width, height = rendering.plan.width, rendering.plan.height
            wishes = Wishes(
                policy=Policy.WHOLE, keep_location=False, rights=Rights(), width=width, height=height, year="2026"
            )
            carry_metadata(original, jpeg, wishes)


def alone(original: Path, long_edge: int) -> None:
    """Run the chain for 1600 px alone, whatever the *long_edge*."""
    del long_edge
    run(original, 1600, whole=False)


def two(original: Path, long_edge: int) -> None:
    """Run the chain on one decode for the long edge and one of 1600 px."""
    run(original, long_edge, 1600, whole=False)


def four(original: Path, long_edge: int) -> None:
    """Run the chain on one decode for the long edge and three more destinations."""
    run(original, long_edge, 1600, 1080, 1920, whole=False)


KINDS = {
    "floor": floor,
    "pillow": pillow,
    "chain": chain,
    "delivery": delivery,
    "alone": alone,
    "two": two,
    "four": four,
    "tuned": tuned,
    "straight": straight,
    "gamma": one_step_in_gamma,
}
THREADS = {"tuned": 2, "straight": 2, "gamma": 2}
"""Kinds that are given more than one thread."""


def command(kind: str, original: Path, long_edge: int, times: int = 1) -> tuple[list[str], dict[str, str]]:
    """Return what runs a kind in a fresh process, and its environment."""
    threads = str(THREADS.get(kind, 1))
    environment = {**os.environ, "PYTHONPATH": f"{ROOT / 'service'}{os.pathsep}{ROOT}"}
    environment |= {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "VIPS_CONCURRENCY": threads}
    one = [sys.executable, "-m", "tests.benchmarks.chain", str(original), "--one", kind, str(long_edge), str(times)]
    return one, environment


def measure(kind: str, original: Path, long_edge: int) -> dict[str, float]:
    """Return seconds and peak MiB of one run in a fresh process."""
    one, environment = command(kind, original, long_edge)
    done = subprocess.run(one, env=environment, capture_output=True, text=True, check=True, cwd=ROOT)
    figures: dict[str, float] = json.loads(done.stdout)
    return figures


def rate(kind: str, original: Path, long_edge: int, times: int = 8) -> float:
    """Return pictures a second of two processes at once, each with one thread, after their first picture."""
    one, environment = command(kind, original, long_edge, times)
    environment["VIPS_CONCURRENCY"] = "1"
    running = [subprocess.Popen(one, env=environment, stdout=subprocess.PIPE, text=True, cwd=ROOT) for _ in range(2)]
    return sum(1 / float(json.loads(process.communicate()[0])["each"]) for process in running)


def run_one(kind: str, original: Path, long_edge: int, times: int) -> None:
    """Print seconds and peak MiB of the first run, and the mean of further ones; imports are not timed."""
    from lanternslide import worker  # noqa: F401, PLC0415 - everything is loaded before the clock starts
    from lanternslide.worker.memory import peak_mib  # noqa: PLC0415

    started = time.perf_counter()
    KINDS[kind](original, long_edge)
    first, mib = time.perf_counter() - started, peak_mib()
    started = time.perf_counter()
    for _ in range(times - 1):
        KINDS[kind](original, long_edge)
    each = (time.perf_counter() - started) / (times - 1) if times > 1 else first
    print(json.dumps({"seconds": first, "mib": mib, "each": each}))


def table(original: Path, long_edge: int, rounds: int) -> None:
    """Time every kind at one size, interleaved, and print ratios."""
    runs: dict[str, list[dict[str, float]]] = {kind: [] for kind in KINDS}
    for _ in range(rounds):
        for kind, found in runs.items():
            found.append(measure(kind, original, long_edge))
    ms = {kind: median(run["seconds"] for run in found) * 1000 for kind, found in runs.items()}
    mib = {kind: median(run["mib"] for run in found) for kind, found in runs.items()}
    print(f"\nto {long_edge} px           ms    MiB   / floor   / Pillow's floor   / chain")
    names = {
        "floor": "floor", "pillow": "floor by Pillow", "chain": "chain", "delivery": "full delivery",
        "alone": "1600 px alone", "two": "and 1600 px", "four": "and 1600, 1080, 1920",
        "tuned": "libvips, tuned", "straight": "libvips, straight", "gamma": "libvips, in gamma",
    }  # fmt: skip
    for kind, name in names.items():
        print(
            f"{name:20s}  {ms[kind]:5.0f}  {mib[kind]:5.0f}   {ms[kind] / ms['floor']:7.2f}   "
            f"{ms[kind] / ms['pillow']:16.2f}   {ms[kind] / ms['chain']:7.2f}"
        )
    print(f"the second destination against itself alone: {(ms['two'] - ms['chain']) / ms['alone']:.2f}")
    print("pictures a second, two processes: ", end="")
    rates = {kind: rate(kind, original, long_edge) for kind in ("chain", "delivery", "tuned", "straight")}
    print(", ".join(f"{names[kind]} {value:.2f}" for kind, value in rates.items()))


def main() -> None:
    """Measure and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("original", type=Path, nargs="?", default=DEFAULT)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--long-edge", type=int, nargs="+", default=LONG_EDGES)
    parser.add_argument("--one", nargs=3, metavar=("KIND", "LONG_EDGE", "TIMES"))
    arguments = parser.parse_args()
    if arguments.one:
        kind, long_edge, times = arguments.one
        run_one(kind, arguments.original, int(long_edge), int(times))
        return
    print(f"{arguments.original.name}: medians of {arguments.rounds} rounds; one thread, libvips two")
    for long_edge in arguments.long_edge:
        table(arguments.original, long_edge, arguments.rounds)


if __name__ == "__main__":
    main()
