"""Final sizes, exact to the pixel."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.chain import target_size
from lanternslide.chain.size import LONGEST_JPEG, asked_size
from lanternslide.records import SizeRule

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


@pytest.mark.parametrize(
    ("original", "expected"),
    [
        ((LONGEST_JPEG, 100), (LONGEST_JPEG, 100)),
        ((2 * LONGEST_JPEG, 100), (LONGEST_JPEG, 50)),
        ((100, 2 * LONGEST_JPEG), (50, LONGEST_JPEG)),
    ],
)
def test_what_no_jpeg_can_hold_is_made_to_fit(original: tuple[int, int], expected: tuple[int, int]) -> None:
    """The JPEG library takes 65,500 pixels; the proportions are kept."""
    assert target_size(rule("long_edge", 200_000), 1, *original) == expected


def test_an_unknown_rule_is_an_error_of_ours() -> None:
    """No config that was read holds one."""
    with pytest.raises(ValueError, match="diagonal"):
        asked_size(rule("diagonal", 100), 1, 60, 40)
