"""How long the chain takes against the floor.

Run it with ``python -m tests.benchmarks.chain [ORIGINAL] [--rounds N]``.

The floor is what nobody can save: decoding the original with the fastest reader and encoding a JPEG of the final size;
next to it the same with Pillow's reader. The chain is decode, resize, sharpen at a fixed strength, colour, encode; a
full delivery adds the strength found for the picture, measuring, and metadata. Each timing runs in a fresh process with
one thread, the kinds interleaved; the table shows medians, ratios, and the peak memory of the process.
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


def run(original: Path, long_edge: int, *, whole: bool) -> None:
    """Make one delivery of *original*, as the worker does."""
    from lanternslide.chain import decode, measure, plan_deliveries  # noqa: PLC0415
    from lanternslide.imaging.encode import encode_jpeg  # noqa: PLC0415
    from lanternslide.imaging.metadata import carry_metadata  # noqa: PLC0415
    from lanternslide.imaging.read import read_header  # noqa: PLC0415
    from lanternslide.imaging.working_space import working_space  # noqa: PLC0415
    from tests.support.chain import recipe, task  # noqa: PLC0415

    header = read_header(original)
    space = working_space(header)
    (plan,), _ = plan_deliveries([task(recipe(long_edge, quality=QUALITY), original)], header.width, header.height)
    if not whole:
        (rung,) = plan.rungs
        plan = replace(plan, rungs=(replace(rung, sharpening=replace(rung.sharpening, amount=plan.default_amount)),))
    ways, _ = decode(header, space, [plan])
    rendering = ways[0].finish()
    jpeg = encode_jpeg(rendering.codes, quality=QUALITY, chroma="4:4:4", progressive=True, density=None)
    if whole:
        measure(rendering, jpeg)
        carry_metadata(original, jpeg, width=plan.width, height=plan.height)


KINDS = {"floor": floor, "pillow": pillow, "chain": chain, "delivery": delivery}


def measure(kind: str, original: Path, long_edge: int) -> dict[str, float]:
    """Return seconds and peak MiB of one run in a fresh process."""
    environment = {**os.environ, "PYTHONPATH": f"{ROOT / 'service'}{os.pathsep}{ROOT}"}
    environment |= dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "VIPS_CONCURRENCY"), "1")
    command = [sys.executable, "-m", "tests.benchmarks.chain", str(original), "--one", kind, str(long_edge)]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True, cwd=ROOT)
    figures: dict[str, float] = json.loads(done.stdout)
    return figures


def run_one(kind: str, original: Path, long_edge: int) -> None:
    """Print seconds and peak MiB of one run; imports and a small warm-up are not timed."""
    from lanternslide import worker  # noqa: F401, PLC0415 - everything is loaded before the clock starts
    from lanternslide.worker.memory import peak_mib  # noqa: PLC0415

    started = time.perf_counter()
    KINDS[kind](original, long_edge)
    print(json.dumps({"seconds": time.perf_counter() - started, "mib": peak_mib()}))


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("original", type=Path, nargs="?", default=DEFAULT)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--one", nargs=2, metavar=("KIND", "LONG_EDGE"))
    arguments = parser.parse_args()
    if arguments.one:
        run_one(arguments.one[0], arguments.original, int(arguments.one[1]))
        return
    print(f"{arguments.original.name}: medians of {arguments.rounds} rounds, one thread")
    print("long edge   floor   Pillow   chain ms   / floor   / Pillow   MiB   delivery ms   / chain   MiB")
    for long_edge in LONG_EDGES:
        runs: dict[str, list[dict[str, float]]] = {kind: [] for kind in KINDS}
        for _ in range(arguments.rounds):
            for kind, found in runs.items():
                found.append(measure(kind, arguments.original, long_edge))
        ms = {kind: median(run["seconds"] for run in found) * 1000 for kind, found in runs.items()}
        mib = {kind: median(run["mib"] for run in found) for kind, found in runs.items()}
        print(
            f"{long_edge:9d}   {ms['floor']:5.0f}   {ms['pillow']:6.0f}   {ms['chain']:8.0f}   "
            f"{ms['chain'] / ms['floor']:7.2f}   {ms['chain'] / ms['pillow']:8.2f}  {mib['chain']:4.0f}   "
            f"{ms['delivery']:11.0f}   {ms['delivery'] / ms['chain']:7.2f}  {mib['delivery']:4.0f}"
        )


if __name__ == "__main__":
    main()
