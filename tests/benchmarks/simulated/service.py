"""The real service in this process, with real workers: what its main thread takes for each picture, and for what."""

from __future__ import annotations

import functools
import time
from collections import defaultdict
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from lanternslide.config import load_settings
from lanternslide.daemon.inbox import Inbox, Message
from lanternslide.daemon.service import Service
from lanternslide.delivery import publisher as publisher_module
from lanternslide.ledger import Ledger
from lanternslide.ledger.store import Store
from lanternslide.records import Survey
from lanternslide.records.events import Delivered, Event
from lanternslide.workers.executor import Answer, Order
from tests.benchmarks.simulated.replay import PHASES
from tests.support.service import Home

__all__ = ["Watch", "WatchedLedger", "drop_small", "publishing_moments", "run_service"]

WARM = 50
"""So many pictures are not counted: workers start meanwhile, in threads of this process."""


@dataclass(kw_only=True)
class Watch:
    """What was measured, in seconds, and what the ledger was asked."""

    seconds: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))  #: Of each call, by phase.
    busy: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))  #: The same, of processor time.
    in_ledger: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))  #: The ledger's part of them.
    busy_in_ledger: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    calls: list[tuple[str, str]] = field(default_factory=list)  #: Phase and name of each call of the ledger.
    delivered: list[float] = field(default_factory=list)  #: When each delivery stood.
    phase: str = "round"
    ledger_seconds: float = 0.0
    ledger_busy: float = 0.0
    is_in_ledger: bool = False
    orders: list[int] = field(default_factory=list)  #: How many were given to the pool by each submission.
    rounds: list[float] = field(default_factory=list)  #: What each round took beside the phases.
    in_phases: float = 0.0  #: What this round's phases have taken so far.

    def within(self, phase: str, function: Callable[..., Any], *arguments: Any) -> Any:
        """Call *function* as a part of *phase*."""
        before, self.phase = self.phase, phase
        ledger, ledger_busy = self.ledger_seconds, self.ledger_busy
        began, busy = time.perf_counter(), time.thread_time()
        try:
            return function(*arguments)
        finally:
            spent = time.perf_counter() - began
            self.seconds[phase].append(spent)
            self.in_phases += spent if before == "round" else 0.0
            self.busy[phase].append(time.thread_time() - busy)
            self.in_ledger[phase].append(self.ledger_seconds - ledger)
            self.busy_in_ledger[phase].append(self.ledger_busy - ledger_busy)
            self.phase = before

    def typical(self, phase: str) -> dict[str, float]:
        """Return what a call in *phase* takes in seconds, the first ones not counted.

        ``busy`` and ``waits`` are outside the ledger: the median of processor time, and the lower quartile of what it
        waits for the disk, since others may want the processor too. ``ledger`` is the median in the ledger.
        """
        calls = slice(WARM if len(self.seconds[phase]) > 2 * WARM else 0, None)
        busy = [
            whole - part for whole, part in zip(self.busy[phase][calls], self.busy_in_ledger[phase][calls], strict=True)
        ]
        outside = [
            whole - part for whole, part in zip(self.seconds[phase][calls], self.in_ledger[phase][calls], strict=True)
        ]
        waits = [whole - part for whole, part in zip(outside, busy, strict=True)]
        return {
            "busy": median(busy),
            "waits": max(0.0, quantiles(waits, n=4)[0]),
            "ledger": median(self.in_ledger[phase][calls]),
        }

    def figures(self) -> dict[str, Any]:
        """Return the medians as JSON holds them: of each phase, of an order and of a round."""
        phases = {phase: self.typical(phase) for phase in (*PHASES, "published")}
        orders = list(zip(self.busy["submitted"], self.orders, strict=True))[WARM:]
        begin = median(seconds / number for seconds, number in orders if number)
        return {"phases": phases, "begin": begin, "round": median(self.rounds), "rounds": len(self.rounds)}


class WatchedLedger(Ledger):
    """The ledger, which says what it is asked and how long that takes."""

    watch: Watch

    def __getattribute__(self, name: str) -> Any:
        found = super().__getattribute__(name)
        return WatchedPart(self.watch, found) if isinstance(found, Store) and "watch" in vars(self) else found


class WatchedPart:
    """A part of it, likewise."""

    def __init__(self, watch: Watch, part: Store) -> None:
        self._watch = watch
        self._part = part

    def __getattr__(self, name: str) -> Any:
        found = getattr(self._part, name)
        if not callable(found) or self._watch.is_in_ledger:
            return found
        return functools.partial(_watched, self._watch, name, found)


def _watched(watch: Watch, name: str, function: Callable[..., Any], *arguments: Any, **named: Any) -> Any:
    watch.calls.append((watch.phase, name))
    watch.is_in_ledger = True
    began, busy = time.perf_counter(), time.thread_time()
    try:
        return function(*arguments, **named)
    finally:
        watch.ledger_seconds += time.perf_counter() - began
        watch.ledger_busy += time.thread_time() - busy
        watch.is_in_ledger = False


class _Inbox(Inbox):
    """An inbox that knows when the main thread goes round: from one reading to the next."""

    def __init__(self, watch: Watch) -> None:
        super().__init__()
        self._watch = watch
        self._read = time.perf_counter()

    def read(self, seconds: float) -> list[Message]:
        self._watch.rounds.append(time.perf_counter() - self._read - self._watch.in_phases)
        self._watch.in_phases = 0.0
        found = super().read(seconds)
        self._read = time.perf_counter()
        return found


@dataclass(frozen=True)
class Counted:
    """An executor whose orders are counted."""

    executor: Any
    watch: Watch

    @property
    def admission(self) -> Any:
        """Where jobs are admitted."""
        return self.executor.admission

    @property
    def slots(self) -> int:
        """How many orders can be done at once."""
        return int(self.executor.slots)

    def submit(self, order: Order) -> Future[Answer]:
        """Count an order, and have it done."""
        self.watch.orders[-1] += 1
        answer: Future[Answer] = self.executor.submit(order)
        return answer


def run_service(home: Home) -> Watch:
    """Sweep all that lies in the drop folders of *home* with the real service and return what was measured."""
    watch = Watch()
    settings = load_settings(home.config)
    state = home.root / "state"
    state.mkdir()

    def tell(event: Event) -> None:
        if isinstance(event, Delivered):
            watch.delivered.append(time.perf_counter())

    publishing: Any = publisher_module
    publish = publishing.publish_new
    with WatchedLedger(state) as ledger:
        ledger.watch = watch
        service = Service(settings, ledger, _Inbox(watch), tell)
        loop: Any = service
        pictures: Any = loop._pictures
        admit, submit, advance = pictures.admit, loop._submit, pictures.advance

        def advanced(answer: Answer, admission: Any) -> Any:
            phase = "surveyed" if isinstance(answer.result, Survey) else "made"
            return watch.within(phase, advance, answer, admission)

        def submitted(executor: Any) -> None:
            watch.orders.append(0)
            watch.within("submitted", submit, Counted(executor, watch))

        pictures.admit = lambda file: watch.within("taken in", admit, file)
        loop._submit = submitted
        pictures.advance = advanced
        publishing.publish_new = lambda source, target: watch.within("published", publish, source, target)
        try:
            service.run(until_idle=True)
        finally:
            publishing.publish_new = publish
    return watch


def drop_small(home: Home, picture: bytes, number: int, numbered: Callable[[bytes, int], bytes]) -> None:
    """Put so many small originals into the drop folders, no two the same."""
    for index in range(number):
        owner = "ida" if index % 2 else "juno"
        folder = home.drop(owner) / f"harbour-{index // 500}"
        folder.mkdir(exist_ok=True)
        (folder / f"kelp-{index:06d}.jpg").write_bytes(numbered(picture, index))


def publishing_moments(folder: Path) -> list[float]:
    """Return when each file below *folder* got its name, by the clock of the file system, in seconds."""
    return sorted(path.stat().st_ctime_ns / 1e9 for path in folder.rglob("[!.]*.jpg"))
