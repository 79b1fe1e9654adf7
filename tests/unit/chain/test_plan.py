"""From settings and a header to the steps of each delivery."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.chain import Plan, plan_deliveries, target_size
from lanternslide.chain.plan import Rung, SharpeningPass
from lanternslide.chain.quality import Aim
from lanternslide.chain.size import LONGEST_JPEG
from lanternslide.imaging.tone import ToneCurve
from lanternslide.records import DeliveryTask, Recipe, Sharpening, SizeRule, UnsharpMask

EDGES = st.integers(1, 20_000)


def rule(name: str, *values: float) -> SizeRule:
    """Return a rule."""
    return SizeRule(rule=name, values=values)


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
    """A density that would need enlarging is left out with a note on the smallest one, which is always made."""
    plans, left = plan_deliveries(tasks(1, 2), long_edge, long_edge // 2)

    assert [(plan.width, plan.height) for plan in plans] == made
    assert left == left_out
    assert [[doubt.key for doubt in plan.findings] for plan in plans] == doubts


def test_an_unreduced_picture_is_not_sharpened() -> None:
    """Sharpening gives back what a downsize takes; a picture at its own size has lost nothing."""
    (reduced,), _ = plan_deliveries(tasks(1), 2000, 1000)
    (own_size,), _ = plan_deliveries(tasks(1), 1000, 500)

    assert (reduced.strength, own_size.strength) == (1.0, 0.0)
    assert reduced.rungs == (Rung(width=1000, height=500, sharpening=SharpeningPass(amount=None)),)


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


MASK = UnsharpMask(radius=0.5, amount=300, blend=1)


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

    assert lead.sharpening == SharpeningPass(amount=1.5, radius=0.5, held=False)
    assert finish.sharpening == SharpeningPass(amount=None, held=True)

    own = Sharpening(finish=UnsharpMask(radius=0.3, amount=80, blend=0.25))
    (finish,) = plan_of(own, rule("long_edge", 1050), 6000, 4000).rungs
    assert finish.sharpening == SharpeningPass(amount=0.2, radius=0.3, held=True)


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
    assert plan.rungs == (Rung(width=1050, height=702, sharpening=SharpeningPass(amount=0)),)
    assert plan.findings == ()
    assert plan_of(Sharpening(), rule("long_edge", 1050), 600, 401).findings[0].key == "smaller-than-asked"


def plan_with(size: SizeRule, original: tuple[int, int], *, density: float = 1, **how: Any) -> Plan:
    """Return the plan of one delivery that is prepared in its own way."""
    recipe = Recipe(size=size, sharpening=Sharpening(), quality=90, chroma="4:4:4", progressive=True)
    task = DeliveryTask(
        delivery=7, destination="club", density=density, recipe=replace(recipe, **how), temporary=Path()
    )  # fmt: skip
    (plan,), _ = plan_deliveries([task], *original)
    return plan


def test_the_rest_of_a_recipe_is_taken_over() -> None:
    """Tones, gamut and file are the destination's choice; without a floor any quality will do."""
    plan = plan_with(
        rule("long_edge", 30), (60, 40),
        brightness=3.0, contrast=-10.0, clip=True, quality=None, min_ssim=0.98, max_bytes=500_000, min_quality=70,
        chroma="4:2:2", progressive=False,
    )  # fmt: skip

    assert plan.delivery == 7
    assert plan.tone == ToneCurve(brightness=3.0, contrast=-10.0)
    assert plan.aim == Aim(quality=None, min_ssim=0.98, max_bytes=500_000, floor=70)
    assert (plan.clip, plan.chroma, plan.progressive) == (True, "4:2:2", False)
    assert plan_with(rule("long_edge", 30), (60, 40)).aim == Aim(quality=90, floor=1)


@pytest.mark.parametrize(
    ("size", "density", "asked"),
    [
        (rule("long_edge", 1050), 1, "a long edge of 1050 pixels"),
        (rule("short_edge", 700), 1.5, "a short edge of 1050 pixels"),
        (rule("width", 1050), 2, "a width of 2100 pixels"),
        (rule("box", 1920, 1080), 1, "a box of 1920 × 1080 pixels"),
        # Twice the density is twice each edge, so four times the area.
        (rule("area", 1.5), 2, "6 megapixels"),
    ],
)
def test_a_picture_that_is_too_small_is_told_what_was_asked_for(size: SizeRule, density: float, asked: str) -> None:
    """In the words of the config, at the density that was asked for, and with the original's own size."""
    plan = plan_with(size, (60, 40), density=density)

    (doubt,) = plan.findings
    assert doubt.key == "smaller-than-asked"
    assert f"60 × 40 pixels, smaller than the destination asks for ({asked})" in doubt.text
    assert (plan.width, plan.height, plan.strength) == (60, 40, 0.0)


def test_exactly_the_size_that_is_asked_for_is_no_doubt() -> None:
    """One pixel less is."""
    assert plan_with(rule("long_edge", 60), (60, 40)).findings == ()
    assert [doubt.key for doubt in plan_with(rule("long_edge", 61), (60, 40)).findings] == ["smaller-than-asked"]


@pytest.mark.parametrize(
    ("original", "asked", "doubts"),
    [
        ((LONGEST_JPEG, 100), LONGEST_JPEG, []),
        # Its own size is what fits: it is not asked for more than it has, and not delivered smaller.
        ((2 * LONGEST_JPEG, 100), LONGEST_JPEG, []),
        ((2 * LONGEST_JPEG, 100), LONGEST_JPEG + 1, ["longest-jpeg"]),
        ((2 * LONGEST_JPEG, 100), 3 * LONGEST_JPEG, ["longest-jpeg"]),
    ],
)
def test_what_no_jpeg_can_hold_is_doubted(original: tuple[int, int], asked: int, doubts: list[str]) -> None:
    """It is delivered at the largest size that fits, and its owner is told why."""
    plan = plan_with(rule("long_edge", asked), original)

    assert plan.width == LONGEST_JPEG
    assert [doubt.key for doubt in plan.findings] == doubts


def test_enlarging_makes_only_the_smallest_density_larger() -> None:
    """Others that would have to be enlarged are left out, as without it."""
    larger = SizeRule(rule="long_edge", values=(100,), enlarge=True)
    how = Recipe(size=larger, sharpening=Sharpening(), quality=90, chroma="4:4:4", progressive=True)
    wanted = [
        DeliveryTask(delivery=number, destination="journal", density=density, recipe=how, temporary=Path())
        for number, density in ((1, 2.0), (2, 1.0))
    ]

    (plan,), left_out = plan_deliveries(wanted, 60, 40)

    assert (plan.delivery, plan.width, plan.height, plan.enlarged) == (2, 100, 67, True)
    assert left_out == (1,)
    assert [doubt.key for doubt in plan.findings] == ["density-left-out"]
    assert plan.findings[0].text.startswith("The 2x version")


def test_destinations_are_planned_apart() -> None:
    """What one is too small for says nothing about another's densities."""
    wanted = [
        DeliveryTask(delivery=number, destination=name, density=density, recipe=how, temporary=Path())
        for number, (name, density, how) in enumerate(
            [
                ("journal", 2.0, tasks(1)[0].recipe), ("journal", 1.0, tasks(1)[0].recipe),
                ("club", 2.0, replace(tasks(1)[0].recipe, size=rule("long_edge", 600))),
                ("club", 1.0, replace(tasks(1)[0].recipe, size=rule("long_edge", 600))),
            ]
        )
    ]  # fmt: skip

    plans, left_out = plan_deliveries(wanted, 1500, 1000)

    assert left_out == (0,)
    assert {plan.delivery: [doubt.key for doubt in plan.findings] for plan in plans} == {
        1: ["density-left-out"], 2: [], 3: [],
    }  # fmt: skip


@pytest.mark.parametrize(("original", "steps"), [(2310, 2), (2309, 1)])
def test_the_chains_own_rung_wants_a_tenth_more_than_its_size(original: int, steps: int) -> None:
    """2100 pixels and a tenth are 2310; below that one step does as well."""
    assert len(rungs_of(Sharpening(steps=2), 1050, original, original)) == steps


@pytest.mark.parametrize(
    ("strength", "steps", "acutance", "default", "amounts"),
    [
        # The study, section 1, step 9: 1.2 to 3.0 in one step at strength 1, 2.0 where it cannot be measured; and
        # section 7: never more than 4.5.
        (1.0, 1, 1.35, 2.0, (1.2, 3.0)),
        (0.5, 1, 1.175, 1.0, (0.6, 3.0)),
        (1.4, 1, 1.49, 2.8, (1.68, 4.2)),
        (1.6, 1, 1.56, 3.2, (1.92, 4.5)),
        (1.0, 2, 1.35, 1.0, (0.6, 3.0)),
    ],
)
def test_amounts_follow_the_strength(
    strength: float, steps: int, acutance: float, default: float, amounts: tuple[float, float]
) -> None:
    """With a rung before the last, that has less left to do; the most that is allowed stays."""
    plan = plan_of(Sharpening(strength=strength, steps=steps), rule("long_edge", 1050), 6000, 4000)

    assert plan.is_sharpened_by_need
    assert plan.acutance == pytest.approx(acutance)
    assert plan.default_amount == pytest.approx(default)
    assert plan.amounts == pytest.approx(amounts)


def test_each_larger_size_gets_half_the_usual_at_half_the_strength() -> None:
    """1.5 each at strength 1 (study, section 2); the limits on halos hold."""
    *leads, finish = plan_of(Sharpening(strength=0.5, steps=3), rule("long_edge", 1050), 6000, 4000).rungs

    assert [rung.sharpening for rung in leads] == [SharpeningPass(amount=0.75), SharpeningPass(amount=0.75)]
    assert finish.sharpening == SharpeningPass(amount=None)
