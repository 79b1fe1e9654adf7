"""Final sizes, exact to the pixel."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.chain import Plan, plan_deliveries, target_size
from lanternslide.chain.plan import Pass, Rung
from lanternslide.chain.size import asked_size
from lanternslide.records import DeliveryTask, Mask, Recipe, Sharpening, SizeRule

EDGES = st.integers(1, 20_000)


def rule(name: str, *values: float) -> SizeRule:
    """Return a rule."""
    return SizeRule(rule=name, values=values)


@pytest.mark.parametrize(
    ("how", "density", "original", "expected"),
    [
        # Computed by hand.
        (rule("long_edge", 1050), 1, (6000, 4000), (1050, 700)),
        (rule("long_edge", 1050), 1, (4000, 6000), (700, 1050)),
        (rule("long_edge", 1600), 1, (6000, 4000), (1600, 1067)),
        (rule("long_edge", 1050), 2, (6000, 4000), (2100, 1400)),
        (rule("long_edge", 1050), 1.5, (6000, 4000), (1575, 1050)),
        (rule("short_edge", 700), 1, (6000, 4000), (1050, 700)),
        (rule("width", 1000), 1, (4000, 6000), (1000, 1500)),
        (rule("height", 1000), 1, (4000, 6000), (667, 1000)),
        (rule("box", 1920, 1080), 1, (6000, 4000), (1620, 1080)),
        (rule("box", 1920, 1080), 1, (6000, 2000), (1920, 640)),
        (rule("box", 1920, 1080), 1, (4000, 6000), (720, 1080)),
        (rule("area", 1.5), 1, (6000, 4000), (1500, 1000)),
        (rule("area", 0.375), 2, (6000, 4000), (1500, 1000)),
        # Half a pixel is rounded up: 333.5 of 1000 × 667 at half the size.
        (rule("long_edge", 500), 1, (1000, 667), (500, 334)),
        # An extreme shape keeps one pixel.
        (rule("long_edge", 100), 1, (20000, 10), (100, 1)),
        # Never enlarged.
        (rule("long_edge", 1050), 1, (900, 600), (900, 600)),
        (rule("box", 1920, 1080), 1, (1000, 1080), (1000, 1080)),
        (rule("area", 30), 1, (6000, 4000), (6000, 4000)),
    ],
)
def test_sizes(how: SizeRule, density: float, original: tuple[int, int], expected: tuple[int, int]) -> None:
    """Every rule, by examples."""
    assert target_size(how, density, *original) == expected


@given(width=EDGES, height=EDGES, edge=st.integers(1, 5000))
def test_the_long_edge_is_exact(width: int, height: int, edge: int) -> None:
    """The long edge is what was asked for, the other the nearest pixel, for wide and upright pictures alike."""
    found = asked_size(rule("long_edge", edge), 1, width, height)

    assert max(found) == edge
    assert found[::-1] == asked_size(rule("long_edge", edge), 1, height, width)
    for got, stored in zip(found, (width, height), strict=True):
        assert abs(Fraction(stored * edge, max(width, height)) - got) <= Fraction(1, 2) or got == 1


@given(width=EDGES, height=EDGES, box=st.tuples(st.integers(1, 5000), st.integers(1, 5000)))
def test_a_box_holds_the_picture(width: int, height: int, box: tuple[int, int]) -> None:
    """A picture fits into its box and touches it."""
    found = asked_size(rule("box", *box), 1, width, height)

    assert found[0] <= box[0]
    assert found[1] <= box[1]
    assert found[0] == box[0] or found[1] == box[1]


@given(
    width=EDGES,
    height=EDGES,
    how=st.one_of(
        st.builds(rule, st.sampled_from(["long_edge", "short_edge", "width", "height"]), st.integers(1, 20_000)),
        st.builds(rule, st.just("area"), st.floats(0.001, 400)),
    ),
    density=st.floats(1, 4),
)
def test_nothing_is_enlarged(width: int, height: int, how: SizeRule, density: float) -> None:
    """No rule and no density makes a picture larger than it is, or less than a pixel."""
    found = target_size(how, density, width, height)

    assert 1 <= found[0] <= width
    assert 1 <= found[1] <= height


@given(width=st.integers(500, 9000), height=st.integers(500, 9000), area=st.floats(0.05, 0.2))
def test_an_area_is_met_within_rounding(width: int, height: int, area: float) -> None:
    """The pixels are as many as asked for, but for the rounding of two edges."""
    found = asked_size(rule("area", area), 1, width, height)

    assert abs(found[0] * found[1] - area * 1e6) <= 0.5 * (found[0] + found[1]) + 1


def tasks(*densities: float) -> list[DeliveryTask]:
    """Return the deliveries of one destination."""
    how = Recipe(size=rule("long_edge", 1000), sharpening=Sharpening(), quality=90, chroma="4:4:4", progressive=True)
    return [
        DeliveryTask(delivery=number, destination="journal", density=density, recipe=how, temporary=Path())
        for number, density in enumerate(densities, 1)
    ]


@pytest.mark.parametrize(
    ("long_edge", "made", "left_out", "doubts"),
    [
        (4000, [(1000, 500), (2000, 1000)], (), [[], []]),
        (1500, [(1000, 500)], (2,), [["density-left-out"]]),
        (800, [(800, 400)], (2,), [["smaller-than-asked", "density-left-out"]]),
    ],
)
def test_densities(
    long_edge: int, made: list[tuple[int, int]], left_out: tuple[int, ...], doubts: list[list[str]]
) -> None:
    """A density that would need enlarging is left out with a doubt on the smallest one, which is always made."""
    plans, left = plan_deliveries(tasks(1, 2), long_edge, long_edge // 2)

    assert [(plan.width, plan.height) for plan in plans] == made
    assert left == left_out
    assert [[doubt.key for doubt in plan.doubts] for plan in plans] == doubts


def test_an_unreduced_picture_is_not_sharpened() -> None:
    """Sharpening gives back what a downsize takes; a picture at its own size has lost nothing."""
    (reduced,), _ = plan_deliveries(tasks(1), 2000, 1000)
    (own_size,), _ = plan_deliveries(tasks(1), 1000, 500)

    assert (reduced.strength, own_size.strength) == (1.0, 0.0)
    assert reduced.rungs == (Rung(width=1000, height=500, sharpening=Pass(amount=None)),)


def plan_of(sharpening: Sharpening, size: SizeRule, width: int, height: int) -> Plan:
    """Return the plan of one delivery."""
    how = Recipe(size=size, sharpening=sharpening, quality=90, chroma="4:4:4", progressive=True)
    one = DeliveryTask(delivery=1, destination="club", density=1, recipe=how, temporary=Path())
    (plan,), _ = plan_deliveries([one], width, height)
    return plan


def rungs_of(sharpening: Sharpening, long_edge: float, width: int, height: int) -> list[tuple[int, int]]:
    """Return the sizes on the way down to a long edge."""
    plan = plan_of(sharpening, rule("long_edge", long_edge), width, height)
    return [(rung.width, rung.height) for rung in plan.rungs]


MASK = Mask(radius=0.5, amount=300, blend=1)


@pytest.mark.parametrize(
    ("sharpening", "original", "expected"),
    [
        (Sharpening(), (6000, 4000), [(1050, 700)]),
        (Sharpening(steps=2), (6000, 4000), [(2100, 1400), (1050, 700)]),
        # Whole ratios in both axes: 1050 × 701 doubled is 2100 × 1402, whatever the original's own proportions.
        (Sharpening(steps=2), (6000, 4005), [(2100, 1402), (1050, 701)]),
        (Sharpening(steps=3), (6000, 4000), [(4200, 2800), (2100, 1400), (1050, 700)]),
        # The chain's own rungs need room: 8400 px is more than there is.
        (Sharpening(steps=4), (6000, 4000), [(4200, 2800), (2100, 1400), (1050, 700)]),
        (Sharpening(steps=2), (2200, 1100), [(1050, 525)]),
        # 1.67 × 1050 is 1753.5, rounded half up (common practice, no source); 1.67 × 700 is 1169.
        (Sharpening(steps=2, ratio=1.67), (6000, 4000), [(1754, 1169), (1050, 700)]),
        (Sharpening(steps=2, ratio=1.67, lead=MASK), (6000, 4000), [(1754, 1169), (1050, 700)]),
        # An owner's own rung is clamped to the original's size.
        (Sharpening(steps=2, ratio=1.67, lead=MASK), (1500, 1000), [(1500, 1000), (1050, 700)]),
        (Sharpening(steps=3, ratio=4, lead=MASK), (3000, 2000), [(3000, 2000), (1050, 700)]),
        (Sharpening(strength=0, steps=3), (6000, 4000), [(1050, 700)]),
    ],
)
def test_rungs(sharpening: Sharpening, original: tuple[int, int], expected: list[tuple[int, int]]) -> None:
    """Each rung is so many times as large as the next, exactly, and never larger than the original."""
    assert rungs_of(sharpening, 1050, *original) == expected


def test_the_owners_numbers_and_the_chains() -> None:
    """A pass that the owner leaves out is the chain's own; the halo limits hold at the final size in any case."""
    sharpening = Sharpening(strength=0.5, steps=2, ratio=1.67, lead=MASK)
    lead, finish = plan_of(sharpening, rule("long_edge", 1050), 6000, 4000).rungs

    assert lead.sharpening == Pass(amount=1.5, radius=0.5, held=False)
    assert finish.sharpening == Pass(amount=None, held=True)

    own = Sharpening(finish=Mask(radius=0.3, amount=80, blend=0.25))
    (finish,) = plan_of(own, rule("long_edge", 1050), 6000, 4000).rungs
    assert finish.sharpening == Pass(amount=0.2, radius=0.3, held=True)


@given(width=EDGES, height=EDGES, long_edge=EDGES, steps=st.integers(1, 4), ratio=st.floats(1.1, 4), own=st.booleans())
def test_rungs_go_down(width: int, height: int, long_edge: int, steps: int, ratio: float, *, own: bool) -> None:
    """Whatever is asked for: rungs get smaller, fit into the original, and end at the final size."""
    sharpening = Sharpening(steps=steps, ratio=ratio, lead=MASK if own else None)
    found = rungs_of(sharpening, long_edge, width, height)

    assert len(found) <= steps
    assert found[-1] == target_size(rule("long_edge", long_edge), 1, width, height)
    for above, below in zip([(width, height), *found], found, strict=False):
        assert above[0] >= below[0]
        assert above[1] >= below[1]


def test_enlarging_has_to_be_asked_for() -> None:
    """With enlarge the size is what the rule says, in one step, without sharpening and without a doubt."""
    larger = SizeRule(rule="long_edge", values=(1050,), enlarge=True)
    plan = plan_of(Sharpening(steps=3), larger, 600, 401)

    assert (plan.width, plan.height, plan.enlarged) == (1050, 702, True)
    assert plan.rungs == (Rung(width=1050, height=702, sharpening=Pass(amount=0)),)
    assert plan.doubts == ()
    assert plan_of(Sharpening(), rule("long_edge", 1050), 600, 401).doubts[0].key == "smaller-than-asked"
