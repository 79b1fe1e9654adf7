"""How much memory a job is said to need: it follows every size that is held at once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.chain import Plan, plan_deliveries
from lanternslide.chain.memory import LOADED_MIB, estimated_mib
from lanternslide.imaging.reading.source import Header
from lanternslide.records import Sharpening
from tests.support.chain import recipe
from tests.support.orders import delivery

MIB = 2**20
HEADER = Header(
    path=Path("seal.tif"), kind="TIFF", stored_width=6000, stored_height=4000, channels=3, alpha=False, extra=0,
    bits=8, orientation=1, icc=None, declared=None, density=None, held_bytes=0, page=0, pages=1,
)  # fmt: skip


def plans(*long_edges: float, steps: int = 1, header: Header = HEADER) -> tuple[Plan, ...]:
    """Return the plans of deliveries with these long edges."""
    wanted = [
        delivery(number, replace(recipe(edge), sharpening=Sharpening(steps=steps)), Path())
        for number, edge in enumerate(long_edges)
    ]
    return plan_deliveries(wanted, header.width, header.height)[0]


def need(header: Header = HEADER, *long_edges: float, steps: int = 1) -> float:
    """Return the estimate for deliveries with these long edges."""
    return estimated_mib(header, plans(*(long_edges or (1050,)), steps=steps, header=header))


def test_a_worker_counts_before_it_does_anything() -> None:
    """What it has loaded is there in any case."""
    small = replace(HEADER, stored_width=60, stored_height=40)

    assert LOADED_MIB <= estimated_mib(small, []) < LOADED_MIB + 1
    assert LOADED_MIB < need(small, 30) < LOADED_MIB + 1


@pytest.mark.parametrize(
    ("less", "more"),
    [
        (need(HEADER, 1050), need(HEADER, 2048)),
        (need(HEADER, 1050), need(HEADER, 1050, 300)),
        (need(HEADER, 1050), need(HEADER, 1050, steps=2)),
        (need(HEADER), need(replace(HEADER, stored_width=12000, stored_height=8000))),
        (need(replace(HEADER, channels=1)), need(HEADER)),
        (need(HEADER), need(replace(HEADER, channels=4))),
        (need(HEADER), need(replace(HEADER, bits=16))),
        (need(HEADER), need(replace(HEADER, orientation=6))),
    ],
    ids=["size", "deliveries", "rungs", "original", "colours", "inks", "bits", "turned"],
)
def test_whatever_is_larger_needs_more(less: float, more: float) -> None:
    """Each of them is held in memory, and is not to be forgotten."""
    assert less < more


def test_what_a_reader_holds_is_counted_whole() -> None:
    """A picture that cannot be read in bands is there at once, and a little more for the allocator."""
    held = replace(HEADER, held_bytes=400 * MIB)

    assert 400 <= need(held) - need(HEADER) <= 400 * 1.25


def test_deliveries_are_finished_one_after_the_other() -> None:
    """All are resized at once, and each is then sharpened and encoded alone: a second one costs less than the first."""
    one, two = need(HEADER, 2048), need(HEADER, 2048, 2048)

    assert two - one < 0.6 * (one - estimated_mib(HEADER, []))


def test_an_original_in_bands_costs_by_its_width_alone() -> None:
    """A panorama that is four times as high streams in the same bands."""
    high = replace(HEADER, stored_height=16_000)

    assert estimated_mib(high, plans(1050)) == estimated_mib(HEADER, plans(1050))


@pytest.mark.parametrize(
    ("header", "most"),
    [
        # The design's targets for peaks (section 8): 24, 45 and 100 megapixels to 1050 pixels.
        (replace(HEADER, held_bytes=6000 * 4000 * 3), 200 * 1.5),
        (replace(HEADER, stored_width=8200, stored_height=5500, held_bytes=8200 * 5500 * 3), 280 * 1.5),
        (replace(HEADER, stored_width=12240, stored_height=8160), 400 * 1.5),
        # A panorama of 500 megapixels, read in bands of 16 bits.
        (replace(HEADER, stored_width=38_700, stored_height=12_900, bits=16), 1024),
    ],
)
def test_what_is_admitted_is_near_the_targets(header: Header, most: float) -> None:
    """An estimate that is much too high keeps workers idle; real peaks are held against it in another test."""
    assert LOADED_MIB < need(header) <= most
