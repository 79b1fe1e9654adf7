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

from lanternslide.chain import Evidence, Rendering, measure
from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.encode import decode_again, encode_jpeg
from tests.support.chain import recipe, render

DEMO = Path(__file__).resolve().parents[2] / "demo_inbox"


def measured(original: Path, long_edges: list[int]) -> Iterator[tuple[Rendering, Evidence]]:
    """Yield the rendering of an original at each size that is smaller than it, and what is measured of it."""
    for long_edge in long_edges:
        made = render(original, recipe(long_edge))
        if made.plan.strength:
            jpeg = encode_jpeg(made.codes, quality=90, chroma="4:4:4", progressive=True, density=None)
            yield made, measure(made, decode_again(jpeg))


def line_of(made: Rendering, found: Evidence) -> str:
    """Return the figures of a rendering."""
    return (
        f"{max(made.plan.width, made.plan.height):6d}  {found.acutance or 0:8.3f}  "
        f"{found.halos.light:10.2f}  {found.halos.dark:4.2f}  "
        f"{found.tone_shift[0]:9.2f}  {found.tone_shift[1]:4.2f}  {made.out_of_gamut:12.4f}  "
        f"{found.clipped[0]:.3f}  {found.clipped[1]:.3f}"
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
            for made, found in measured(original, arguments.long_edge):
                acutances += [found.acutance] if found.acutance is not None else []
                print(f"{original.name[:30]:30s} {line_of(made, found)}")
        except OriginalHeldError as held:
            print(f"{original.name[:30]:30s} held: {held.said.key}")
    if acutances:
        print(f"acutance of {len(acutances)}: mean {mean(acutances):.3f}, standard deviation {pstdev(acutances):.3f}")


if __name__ == "__main__":
    main()
