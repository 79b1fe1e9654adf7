"""A service on a simulated clock: one main thread, a scheduler, workers and a storage. Pure but for random numbers.

The main thread goes round as `Service.run` does: it takes in what has settled, submits what has a place (jobs whose
survey is back first, then fresh pictures before those of the backlog; at most `workers + ahead` are at work), and reads
all the mail that lies there. Orders go through the scheduler one after the other, then to the next worker that is free,
in their order; a worker first reads its original from the storage, which serves one after the other too (what all get
together is the same as where they share it).

Left out: room in memory, attempts that fail, scans, proof sheets, manifests, and the network but for its bandwidth.
"""

from __future__ import annotations

import heapq
import random
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

__all__ = ["Costs", "Drop", "Outcome", "drops_over", "simulate"]

FED = 1_000
"""The backlog is taken in by so many pictures at a time, as soon as fewer than that are ready."""


@dataclass(frozen=True, kw_only=True)
class Costs:
    """What everything takes, in seconds."""

    survey: Callable[[], float]  #: A worker's time for one survey, drawn at each call.
    make: Callable[[], float]  #: The same for the delivery of one picture.
    take_in: Callable[[int], float] = lambda _known: 0.0  #: The main thread's, for a picture, with so many known.
    surveyed: Callable[[int], float] = lambda _known: 0.0  #: The same after its survey.
    made: Callable[[int], float] = lambda _known: 0.0  #: The same after its delivery, published and noted.
    begin: float = 0.0  #: The main thread's, for one order.
    round: float = 0.0  #: The main thread's, for going round once.
    scheduler: float = 0.0  #: The scheduler's, for one order.
    read: float = 0.0  #: The storage's, for one order.
    start: float = 0.0  #: A worker's, before its first order and after each `orders_a_worker`.
    orders_a_worker: int = 200
    in_rounds: bool = True  #: Whether all mail is read in a round, as the service does; else one answer, surveys first.


@dataclass(frozen=True, kw_only=True)
class Drop:
    """Pictures that settle together amid the backlog, and go before it."""

    at: float  #: Seconds.
    pictures: int = 1


@dataclass(kw_only=True)
class Outcome:
    """What came of it."""

    seconds: float = 0.0  #: From the beginning to the last delivery.
    first: float = 0.0  #: When the first picture was delivered.
    pictures: int = 0
    waited: dict[int, list[float]] = field(default_factory=dict)  #: By the drops' size: seconds until each stood whole.
    began: list[float] = field(default_factory=list)  #: How long each fresh picture waited for a worker to survey it.
    main: float = 0.0  #: Busy seconds of the main thread.
    scheduler: float = 0.0
    storage: float = 0.0
    workers: float = 0.0  #: Busy seconds of all workers together, waiting for the storage not counted.

    def shares(self, workers: int) -> dict[str, float]:
        """Return which share of the time each stage was busy."""
        return {
            "main thread": self.main / self.seconds,
            "scheduler": self.scheduler / self.seconds,
            "storage": self.storage / self.seconds,
            "workers": self.workers / self.seconds / workers,
        }


@dataclass(kw_only=True, slots=True)
class _Picture:
    drop: Drop | None = None  # None: of the backlog
    surveyed: bool = False


class _Simulation:
    def __init__(self, workers: int, ahead: int, costs: Costs, backlog: int, drops: list[Drop]) -> None:
        self._places = workers + ahead
        self._costs = costs
        self._backlog = backlog
        self._drops = deque(sorted(drops, key=lambda drop: drop.at))
        self._left = {id(drop): drop.pictures for drop in drops}
        self._total = backlog + sum(drop.pictures for drop in drops)
        self._now = 0.0
        self._fresh: deque[_Picture] = deque()
        self._ready = 0  # of the backlog
        self._waiting: list[_Picture] = []
        self._at_work = 0
        self._mail: list[tuple[float, int, _Picture]] = []
        self._surveyed: deque[_Picture] = deque()  # answers that were read
        self._made: deque[_Picture] = deque()
        self._number = self._taken_in = 0
        self._scheduler_free = self._storage_free = 0.0
        self._free = [(costs.start, index) for index in range(workers)]  # workers, by when they are free
        self._orders = [0] * workers
        self.outcome = Outcome()

    def run(self) -> None:
        while self.outcome.pictures < self._total:
            self._look_around()
            self._submit()
            self._read_mail()
        self.outcome.seconds = self._now

    def _spend(self, seconds: float) -> None:
        self._now += seconds
        self.outcome.main += seconds

    def _look_around(self) -> None:
        now = self._now
        while self._drops and self._drops[0].at <= now:
            drop = self._drops.popleft()
            for _ in range(drop.pictures):
                self._take_in()
                self._fresh.append(_Picture(drop=drop))
        if self._backlog and self._ready < FED:
            more = min(FED, self._backlog)
            self._backlog -= more
            self._ready += more
            for _ in range(more):
                self._take_in()

    def _take_in(self) -> None:
        self._spend(self._costs.take_in(self._taken_in))
        self._taken_in += 1

    def _submit(self) -> None:
        for picture in self._waiting:
            self._order(picture, self._costs.make())
        self._waiting.clear()
        while self._at_work < self._places:
            if self._fresh:
                picture = self._fresh.popleft()
            elif self._ready:
                self._ready -= 1
                picture = _Picture()
            else:
                return
            self._order(picture, self._costs.survey())

    def _order(self, picture: _Picture, seconds: float) -> None:
        """Send an order on its way; when its answer comes is known at once, since nothing overtakes it."""
        costs, outcome = self._costs, self.outcome
        self._at_work += 1
        self._spend(costs.begin)
        self._scheduler_free = max(self._now, self._scheduler_free) + costs.scheduler
        free, worker = heapq.heappop(self._free)
        begins = max(free, self._scheduler_free)
        if picture.drop is not None and not picture.surveyed:
            outcome.began.append(begins - picture.drop.at)
        has_read = begins
        if costs.read:
            has_read = self._storage_free = max(begins, self._storage_free) + costs.read
        ends = has_read + seconds
        outcome.scheduler += costs.scheduler
        outcome.storage += costs.read
        outcome.workers += costs.read + seconds
        self._number += 1
        heapq.heappush(self._mail, (ends, self._number, picture))
        self._orders[worker] += 1
        again = costs.start if self._orders[worker] % costs.orders_a_worker == 0 else 0.0
        heapq.heappush(self._free, (ends + again, worker))

    def _read_mail(self) -> None:
        if self.outcome.pictures < self._total:
            due = [self._mail[0][0]] if self._mail else []
            due += [self._drops[0].at] if self._drops else []
            can_begin = self._at_work < self._places and (self._fresh or self._ready or self._backlog)
            if not (can_begin or self._surveyed or self._made):
                self._now = max(self._now, min(due))
        self._spend(self._costs.round)
        read = self._now
        while self._mail and self._mail[0][0] <= read:
            picture = heapq.heappop(self._mail)[2]
            is_first = self._costs.in_rounds or not picture.surveyed
            (self._surveyed if is_first else self._made).append(picture)
        while self._surveyed or self._made:
            self._take((self._surveyed or self._made).popleft())
            if not self._costs.in_rounds:
                return

    def _take(self, picture: _Picture) -> None:
        self._at_work -= 1
        known = self.outcome.pictures
        if not picture.surveyed:
            self._spend(self._costs.surveyed(known))
            picture.surveyed = True
            self._waiting.append(picture)
            return
        self._spend(self._costs.made(known))
        self.outcome.pictures += 1
        self.outcome.first = self.outcome.first or self._now
        drop = picture.drop
        if drop is not None:
            self._left[id(drop)] -= 1
            if not self._left[id(drop)]:
                self.outcome.waited.setdefault(drop.pictures, []).append(self._now - drop.at)


def simulate(
    costs: Costs, *, workers: int, backlog: int = 0, drops: list[Drop] | None = None, ahead: int = 2
) -> Outcome:
    """Return what comes of a *backlog* and of *drops* amid it, on so many *workers*, *ahead* orders beyond them."""
    simulation = _Simulation(workers, ahead, costs, backlog, drops or [])
    simulation.run()
    return simulation.outcome


def drops_over(seconds: float, sizes: tuple[int, ...], number: int, dice: random.Random) -> list[Drop]:
    """Return so many drops of each size at random moments, none in the last tenth of so many *seconds*."""
    return [Drop(at=dice.uniform(0, 0.9 * seconds), pictures=size) for size in sizes for _ in range(number)]
