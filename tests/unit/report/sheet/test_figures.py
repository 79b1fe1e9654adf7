"""The small drawings of a proof sheet."""

from __future__ import annotations

import re

import pytest

from lanternslide.report.sheet.figures import HEIGHT, WIDTH, Plot, cloud_of, ladder_of, tone_path


def test_the_curve_of_tones() -> None:
    """By hand: bins of 0, 1 and 4 in a box 24 high are 0, half and full height, since roots are drawn."""
    assert tone_path((0, 1, 4)) == "M0,24 L0,24.0 1,24.0 1,12.0 2,12.0 2,0.0 3,0.0 3,24Z"


@pytest.mark.parametrize("tones", [(0, 0), ()])
def test_a_curve_of_nothing_is_flat(tones: tuple[int, ...]) -> None:
    """No tone at all divides by nothing."""
    heights = {float(y) for y in re.findall(r",([0-9.]+)", tone_path(tones))}

    assert heights == {24.0}


def test_plots_have_their_marks_where_the_figures_are() -> None:
    """By hand: of likeness 0.98 to 1 and 0 to 500 kB, 0.99 and 250 kB lie in the middle of 320 by 150."""
    plot = cloud_of([("club", 0.98, 400_000), ("club", 0.99, 250_000), ("noticeboard", 0.995, 100_000)])

    assert plot is not None
    assert [tick.text for tick in plot.across] == ["0.98", "0.99", "1"]
    assert [tick.text for tick in plot.up] == ["0 bytes", "250 kB", "500 kB"]
    assert "M160,75h0" in plot.clouds[0].path
    assert [cloud.name for cloud in plot.clouds] == ["club", "noticeboard"]
    assert cloud_of([("club", 0.98, 4)]) is None
    ladder = ladder_of(((80, 100), (90, 200)), 90)
    assert ladder is not None
    assert ladder_of(((90, 200),), 90) is None


def test_marks_stay_in_their_box() -> None:
    """Whatever the figures: a likeness below 0, above 0.999, or all alike; one byte, or a great many."""
    for points in (
        [("club", -0.2, 1), ("club", 1.0, 1)],
        [("club", 1.0, 10**9), ("club", 1.0, 10**9)],
        [("club", 0.9999, 0), ("club", 0.9999, 0)],
    ):
        plot = cloud_of(points)
        assert plot is not None
        starts = [(float(x), float(y)) for x, y in re.findall(r"M(-?[0-9.]+),(-?[0-9.]+)", plot.clouds[0].path)]
        assert starts
        assert all(0 <= x <= WIDTH and 0 <= y <= HEIGHT for x, y in starts)


def test_the_axis_of_likeness_begins_at_nothing_at_the_least() -> None:
    """Below it there is no likeness to be told."""
    plot = cloud_of([("club", -0.2, 1), ("club", 0.5, 1)])

    assert plot is not None
    assert [tick.text for tick in plot.across] == ["0", "0.5", "1"]


def test_destinations_differ_by_shape() -> None:
    """Not by colour alone; each key is drawn as its marks are, and the same mark twice is drawn once."""
    names = [f"place-{number}" for number in range(6)]

    plot = cloud_of([(name, 0.99, 1000) for name in names for _ in range(2)])

    assert plot is not None
    shapes = [re.sub(r"-?[0-9.]+,-?[0-9.]+", "", cloud.key, count=1) for cloud in plot.clouds]
    assert len(set(shapes)) == 6
    assert [cloud.round for cloud in plot.clouds] == [True] + [False] * 5
    assert all(cloud.path.count("M") == 1 for cloud in plot.clouds)


@pytest.mark.parametrize(
    ("most", "top"),
    [
        (1_000, "1 kB"), (1_001, "2 kB"), (2_000, "2 kB"), (2_001, "2.5 kB"), (2_501, "5 kB"), (5_000, "5 kB"),
        (5_001, "10 kB"), (420_000, "500 kB"), (0, "1 byte"),
    ],
)  # fmt: skip
def test_the_scale_ends_at_a_round_number(most: int, top: str) -> None:
    """The next of 1, 2, 2.5, 5 and 10."""
    plot = cloud_of([("club", 0.99, most), ("club", 0.98, 0)])

    assert plot is not None
    assert plot.up[-1].text == top
    assert [tick.at for tick in plot.up] == [HEIGHT, HEIGHT / 2, 0]


def points_of(plot: Plot, name: str) -> list[tuple[float, float]]:
    """Return where the marks of a cloud begin."""
    (cloud,) = (cloud for cloud in plot.clouds if cloud.name == name)
    return [(float(x), float(y)) for x, y in re.findall(r"M(-?[0-9.]+),(-?[0-9.]+)", cloud.path)]


def test_the_ladder_of_qualities() -> None:
    """By hand: from 80 to 90 over 320, bytes up to 200 over 150; the chosen one's drawing begins 3 to its left."""
    plot = ladder_of([(80, 100), (85, 150), (90, 200)], 85)

    assert plot is not None
    assert points_of(plot, "tried") == [(0, 75), (320, 0)]
    ((x, y),) = points_of(plot, "chosen")
    assert x == 157
    assert y == pytest.approx(37.5, abs=0.5)
    assert [tick.text for tick in plot.across] == ["80", "90"]


def test_a_ladder_of_one_quality_tried_twice() -> None:
    """Nothing is divided by nothing; without a chosen one all were tried."""
    plot = ladder_of([(80, 100), (80, 100)], None)

    assert plot is not None
    assert points_of(plot, "chosen") == []
    assert points_of(plot, "tried") == [(0, 0), (0, 0)]
