"""Peak memory and time of one delivery, for each way that originals are stored, against the estimate.

Run it with ``python -m tests.benchmarks.memory [--megapixels 24 100 ...] [--only WORD ...] [--long-edge N]``.

Originals are made in a temporary folder from the demo's ledges, mirrored until they are large enough. Each delivery
runs in a fresh process with one thread: the first in it, so that the peak is that of one picture. `floor` is the
process with everything loaded. The estimate is what the service counts with.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyvips

from lanternslide.chain import plan_deliveries
from lanternslide.chain.memory import estimated_mib
from lanternslide.imaging.reading.read import read_header
from tests.support.chain import deliver, recipe, task

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "demo_inbox" / "ida" / "kelp-ledges.jpg"

Save = Callable[[Any, str], None]


def _saver(loader: str, *, bits: int = 8, **options: Any) -> Save:
    def save(image: Any, path: str) -> None:
        # 16 bits are the 8 bits spread out: what matters here is their number.
        picture = (
            image if bits == 8 else image.cast("ushort").linear(257, 0).cast("ushort").copy(interpretation="rgb16")
        )
        getattr(picture, loader)(path, **options)

    return save


def _by_tifffile(**options: Any) -> Save:
    def save(image: Any, path: str) -> None:
        import tifffile  # noqa: PLC0415

        codes = image.numpy()
        if options.get("planarconfig") == "separate":
            codes = codes.transpose(2, 0, 1)
        tifffile.imwrite(path, codes, photometric="rgb", **{"rowsperstrip": len(codes), **options})

    return save


KINDS: dict[str, tuple[str, Save]] = {
    "jpeg": ("jpg", _saver("jpegsave", Q=92, subsample_mode="off")),
    "jpeg-progressive": ("jpg", _saver("jpegsave", Q=92, subsample_mode="off", interlace=True)),
    "jpeg-420": ("jpg", _saver("jpegsave", Q=90, subsample_mode="on")),
    "tiff8": ("tif", _saver("tiffsave", compression="none")),
    "tiff16": ("tif", _saver("tiffsave", bits=16, compression="none", bigtiff=True)),
    "tiff16-lzw": ("tif", _saver("tiffsave", bits=16, compression="lzw", predictor="horizontal", bigtiff=True)),
    "tiff16-deflate": ("tif", _saver("tiffsave", bits=16, compression="deflate", bigtiff=True)),
    "tiff8-tiles": ("tif", _saver("tiffsave", compression="lzw", tile=True, tile_width=256, tile_height=256)),
    "tiff8-one-strip": ("tif", _by_tifffile()),
    "tiff8-one-strip-deflate": ("tif", _by_tifffile(compression="zlib")),
    "tiff8-planar": ("tif", _by_tifffile(planarconfig="separate", rowsperstrip=16)),
    "tiff8-planar-whole": ("tif", _by_tifffile(planarconfig="separate", rowsperstrip=1_000_000)),
    "png8": ("png", _saver("pngsave", compression=1)),
    "png16": ("png", _saver("pngsave", bits=16, compression=1)),
    "png8-interlaced": ("png", _saver("pngsave", compression=1, interlace=True)),
    "webp": ("webp", _saver("webpsave", Q=90, effort=0)),
}
"""Each way to store an original: its ending and what writes it."""


def make(path: str, kind: str, megapixels: float) -> None:
    """Write an original of so many megapixels, 3 : 2."""
    height = round((megapixels * 1e6 / 1.5) ** 0.5)
    width = round(height * 1.5)
    image = pyvips.Image.new_from_file(str(SOURCE))
    row = image.join(image.fliphor(), "horizontal")
    block = row.join(row.flipver(), "vertical")
    across, down = -(-width // block.width), -(-height // block.height)
    KINDS[kind][1](block.replicate(across, down).crop(0, 0, width, height), path)


def in_process(*arguments: object) -> dict[str, float]:
    """Run this script with *arguments* in a fresh process, and return what it prints."""
    environment = {**os.environ, "PYTHONPATH": f"{ROOT / 'service'}{os.pathsep}{ROOT}"}
    environment |= dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "VIPS_CONCURRENCY"), "1")
    command = [sys.executable, "-m", "tests.benchmarks.memory", *map(str, arguments)]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True, cwd=ROOT)
    figures: dict[str, float] = json.loads(done.stdout)
    return figures


def run_one(path: str, long_edge: int) -> None:
    """Deliver one original and print what it took."""
    from lanternslide.worker.memory import peak_mib  # noqa: PLC0415

    started, estimate = time.perf_counter(), 0.0
    if path != "-":
        deliver(Path(path), recipe(long_edge))
        header = read_header(Path(path))
        plans, _ = plan_deliveries([task(recipe(long_edge), Path(path))], header.width, header.height)
        estimate = estimated_mib(header, plans)
    print(json.dumps({"seconds": time.perf_counter() - started, "mib": peak_mib(), "estimate": estimate}))


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--megapixels", type=float, nargs="+", default=[24, 100])
    parser.add_argument("--only", nargs="+", choices=sorted(KINDS), default=list(KINDS))
    parser.add_argument("--long-edge", type=int, default=1050)
    parser.add_argument("--one")
    parser.add_argument("--make", nargs=3, metavar=("PATH", "KIND", "MEGAPIXELS"))
    arguments = parser.parse_args()
    if arguments.make:
        path, kind, megapixels = arguments.make
        try:
            make(path, kind, float(megapixels))
        except pyvips.Error:
            print("{}")
        else:
            print(json.dumps({"made": 1}))
        return
    if arguments.one:
        run_one(arguments.one, arguments.long_edge)
        return
    floor = in_process("--one", "-", "--long-edge", arguments.long_edge)["mib"]
    print(f"floor {floor:.0f} MiB; to {arguments.long_edge} px")
    print("original                    MP   seconds   ms per MP   peak MiB   estimate")
    for kind in arguments.only:
        for megapixels in arguments.megapixels:
            with tempfile.TemporaryDirectory() as folder:
                path = Path(folder) / f"original.{KINDS[kind][0]}"
                if not in_process("--make", path, kind, megapixels):
                    print(f"{kind:23s}  {megapixels:5g}   its writer cannot make one so large")
                    continue
                found = in_process("--one", path, "--long-edge", arguments.long_edge)
            print(
                f"{kind:23s}  {megapixels:5g}   {found['seconds']:7.2f}   "
                f"{found['seconds'] * 1000 / megapixels:9.1f}   {found['mib']:8.0f}   {found['estimate']:8.0f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
