"""The benchmarks' simulated clock against what queueing theory says.

Kleinrock, "Queueing Systems", volume 1 (1975): M/M/1 (3.2), M/M/m by Erlang's C formula (3.5), M/G/1 by Pollaczek and
Khinchin (5.6); volume 2 (1976): two classes, the first before the second, none interrupted (3.2, Cobham 1954).
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from statistics import fmean

import pytest

from tests.benchmarks.simulated.clock import Costs, Drop, Outcome, drops_over, simulate

NUMBER = 60_000
"""Pictures of a random run; its mean is within TOLERANCE of the formula with the seed that is used."""

TOLERANCE = 0.05


def poisson(rate: float, dice: random.Random, number: int = NUMBER) -> list[Drop]:
    """Return drops of one picture each whose pauses are exponential."""
    now, drops = 0.0, []
    for _ in range(number):
        now += dice.expovariate(rate)
        drops.append(Drop(at=now))
    return drops


def served(make: Callable[[], float], drops: list[Drop], *, workers: int = 1, backlog: int = 0) -> Outcome:
    """Return what comes of drops whose surveys take no time, where no order waits in the pool."""
    return simulate(Costs(survey=lambda: 0.0, make=make), workers=workers, drops=drops, backlog=backlog, ahead=0)


@pytest.mark.parametrize(
    ("workers", "main", "rate"),
    [
        (1, 0.001, 1 / 0.5),  # one worker, never idle for long
        (4, 0.001, 4 / 0.5),
        (400, 0.004, 1 / 0.004),  # the main thread is what limits it
    ],
)
def test_what_is_slowest_limits_the_rate(workers: int, main: float, rate: float) -> None:
    """With times that never change the rate is min(workers / job, 1 / main thread)."""
    costs = Costs(survey=lambda: 0.1, make=lambda: 0.4, made=lambda _known: main, in_rounds=False)

    found = simulate(costs, workers=workers, backlog=20 * workers + 5_000)

    assert found.pictures / found.seconds == pytest.approx(rate, rel=0.03)


def test_in_rounds_the_workers_wait_for_the_main_thread() -> None:
    """Where all mail is read before anything is submitted they take turns: far from 250 a second."""
    costs = Costs(survey=lambda: 0.1, make=lambda: 0.4, made=lambda _known: 0.004, in_rounds=True)

    found = simulate(costs, workers=400, backlog=40_000)

    assert 400 / (400 * 0.004 + 0.5) < found.pictures / found.seconds < 0.85 * 250


@pytest.mark.parametrize(
    ("stage", "costs"),
    [
        ("scheduler", Costs(survey=lambda: 0.1, make=lambda: 0.1, scheduler=0.005)),
        ("storage", Costs(survey=lambda: 0.1, make=lambda: 0.1, read=0.005)),
    ],
)
def test_two_orders_a_picture_pass_the_scheduler_and_the_storage(stage: str, costs: Costs) -> None:
    """A serial stage that takes 5 ms for an order lets a hundred pictures a second pass, and is named."""
    found = simulate(costs, workers=200, backlog=5_000)

    shares = found.shares(200)
    assert found.pictures / found.seconds == pytest.approx(100, rel=0.03)
    assert max(shares, key=lambda name: shares[name]) == stage
    assert shares[stage] == pytest.approx(1, abs=0.03)


@pytest.mark.parametrize("load", [0.5, 0.8])
def test_random_pictures_wait_as_in_m_m_1(load: float) -> None:
    """Sojourn time 1 / (mu - lambda)."""
    dice = random.Random(1)

    found = served(lambda: dice.expovariate(1.0), poisson(load, dice))

    assert fmean(found.waited[1]) == pytest.approx(1 / (1 - load), rel=TOLERANCE)


@pytest.mark.parametrize("load", [0.5, 0.8])
def test_equal_pictures_wait_as_in_m_d_1(load: float) -> None:
    """Wait rho / (2 mu (1 - rho)), half of that of random ones."""
    found = served(lambda: 1.0, poisson(load, random.Random(2)))

    assert fmean(found.waited[1]) - 1 == pytest.approx(load / (2 * (1 - load)), rel=TOLERANCE)


def test_many_workers_wait_as_in_m_m_c() -> None:
    """Wait C(c, a) / (c mu - lambda), C by Erlang."""
    workers, offered, dice = 5, 4.0, random.Random(5)

    found = served(lambda: dice.expovariate(1.0), poisson(offered, dice, 2 * NUMBER), workers=workers)

    below = sum(offered**number / math.factorial(number) for number in range(workers))
    last = offered**workers / math.factorial(workers) * workers / (workers - offered)
    wait = last / (below + last) / (workers - offered)
    assert fmean(found.waited[1]) - 1 == pytest.approx(wait, rel=TOLERANCE)


def test_fresh_pictures_go_before_the_backlog() -> None:
    """With a backlog that never ends: wait R / (1 - rho) with R half of the job that is running (equal jobs)."""
    load = 0.3

    found = served(lambda: 1.0, poisson(load, random.Random(4), 20_000), backlog=50_000)

    assert fmean(found.waited[1]) - 1 == pytest.approx(0.5 / (1 - load), rel=TOLERANCE)


def test_a_drop_counts_once_it_stands_whole() -> None:
    """Ten pictures on one worker take ten times as long as one, from when they settled."""
    found = served(lambda: 1.0, [Drop(at=3.0, pictures=10)])

    assert found.waited == {10: [pytest.approx(10.0)]}
    assert found.seconds == pytest.approx(13.0)


def test_workers_are_started_anew() -> None:
    """A worker that is replaced after two orders takes the time of its start for each picture."""
    costs = Costs(survey=lambda: 1.0, make=lambda: 1.0, start=3.0, orders_a_worker=2)

    found = simulate(costs, workers=1, backlog=10, ahead=0)

    assert found.seconds == pytest.approx(10 * (3 + 2))


def test_what_the_main_thread_takes_may_grow() -> None:
    """Costs are asked with the number of pictures that are known."""
    found = simulate(Costs(survey=lambda: 0.0, make=lambda: 0.0, made=float), workers=1, backlog=5)

    assert found.seconds == pytest.approx(0 + 1 + 2 + 3 + 4)


def test_drops_lie_within_the_time() -> None:
    """So many of each size, all in the first nine tenths."""
    drops = drops_over(100.0, (1, 50), 7, random.Random(5))

    assert sorted(drop.pictures for drop in drops) == [1] * 7 + [50] * 7
    assert all(0 <= drop.at <= 90 for drop in drops)
