"""What the chain makes of originals, in figures.

Run it with ``python -m tests.benchmarks.quality [ORIGINAL ...] [--long-edge N ...]``; without originals it takes the
demo inbox. For each original and size it prints the edge contrast against the plain linear-light area average
(acutance), the halos and the shift of broad tones in L*, and the shares out of gamut and clipped, as the record has
them.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from statistics import mean, pstdev

from lanternslide.chain import Rendering, plan_deliveries, render
from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.read import read_header
from lanternslide.imaging.working_space import working_space
from tests.support.chain import recipe, task

DEMO = Path(__file__).resolve().parents[2] / "demo_inbox"


def renderings(original: Path, long_edges: list[int]) -> Iterator[Rendering]:
    """Yield the rendering of an original at each size that is smaller than it."""
    header = read_header(original)
    space = working_space(header.icc, header.channels, wide_mark=header.wide_mark)
    for long_edge in long_edges:
        plans, _ = plan_deliveries([task(recipe(long_edge), original)], header.width, header.height)
        if plans[0].strength:
            yield render(header, space, plans)[0][0]


def line_of(made: Rendering) -> str:
    """Return the figures of a rendering."""
    return (
        f"{made.plan.rungs[-1]:6d}  {made.acutance or 0:8.3f}  {made.halos.light:10.2f}  {made.halos.dark:4.2f}  "
        f"{made.tone_shift[0]:9.2f}  {made.tone_shift[1]:4.2f}  {made.out_of_gamut:12.4f}  "
        f"{made.clipped[0]:.3f}  {made.clipped[1]:.3f}"
    )


def main() -> None:
    """Print a line for each original and size, and what they have in common."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("originals", type=Path, nargs="*", default=sorted(p for p in DEMO.rglob("*") if p.is_file()))
    parser.add_argument("--long-edge", type=int, nargs="+", default=[1050, 2048])
    arguments = parser.parse_args()
    print(
        "original                         edge  acutance  halo light  dark  tone mean   p99  out of gamut  black  white"
    )
    acutances = []
    for original in arguments.originals:
        try:
            for made in renderings(original, arguments.long_edge):
                acutances += [made.acutance] if made.acutance is not None else []
                print(f"{original.name[:30]:30s} {line_of(made)}")
        except OriginalHeldError as held:
            print(f"{original.name[:30]:30s} held: {held.said.key}")
    if acutances:
        print(f"acutance of {len(acutances)}: mean {mean(acutances):.3f}, standard deviation {pstdev(acutances):.3f}")


if __name__ == "__main__":
    main()
