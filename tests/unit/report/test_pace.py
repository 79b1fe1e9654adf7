"""How far the work has come and how long it still takes, by a clock that is passed in."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from lanternslide.records import DroppedFile, Fingerprint
from lanternslide.records.events import Behind, Event, Finished, Found, Idle, Started, Waits
from lanternslide.report import LogReport, Pace, configure_log
from lanternslide.words import Passing, readable_duration, say


class Clock:
    """A clock that stands until it is moved on."""

    now = 0.0

    def __call__(self) -> float:
        """Return the time, seconds."""
        return self.now


def file_of(number: int) -> DroppedFile:
    """Return an original."""
    fingerprint = Fingerprint(size=1, mtime_ns=1, inode=number)
    return DroppedFile(photographer="ida", drop=Path("/d"), relative=Path(f"{number}.jpg"), fingerprint=fingerprint)


def work(tell: Callable[[Event], None], clock: Clock, numbers: range, seconds: float, *, changed: bool = True) -> None:
    """Let originals be made, or merely looked at, one after the other."""
    for number in numbers:
        if changed:
            tell(Started(file=file_of(number), deliveries=1))
        clock.now += seconds
        tell(Finished(file=file_of(number), changed=changed))


@pytest.fixture
def clock() -> Clock:
    """Return a clock at its beginning."""
    return Clock()


def found(pace: Callable[[Event], None], number: int) -> None:
    """Let so many be found."""
    for index in range(number):
        pace(Found(file=file_of(index)))


def test_an_estimate_follows_from_what_was_made(clock: Clock) -> None:
    """At the beginning there is none; then it is the time for each, times those that are left."""
    pace = Pace(clock)
    found(pace, 10)
    pace(Behind(number=90))
    assert (pace.done, pace.all, pace.seconds_left) == (0, 100, None)
    work(pace, clock, range(4), 2.0)
    assert (pace.done, pace.all, pace.seconds_left) == (4, 100, None)
    work(pace, clock, range(4, 10), 2.0)
    assert (pace.done, pace.all, pace.seconds_left) == (10, 100, 180.0)


def test_a_few_in_no_time_tell_nothing(clock: Clock) -> None:
    """Five small ones in a second say nothing of a day's work."""
    pace = Pace(clock)
    pace(Behind(number=1000))
    work(pace, clock, range(5), 0.2)
    assert pace.seconds_left is None


def test_what_was_merely_looked_at_does_not_count(clock: Clock) -> None:
    """A thousand that needed nothing make those that are left neither faster nor slower."""
    pace = Pace(clock)
    found(pace, 1020)
    work(pace, clock, range(10), 3.0)
    before = pace.seconds_left
    work(pace, clock, range(10, 1010), 0.01, changed=False)
    assert before == 1010 * 3.0
    assert pace.seconds_left == 10 * 3.0


def test_time_in_which_something_was_in_the_way_does_not_count(clock: Clock) -> None:
    """An hour without a disk, and the time before anything is made."""
    pace = Pace(clock)
    found(pace, 20)
    clock.now += 500
    work(pace, clock, range(5), 2.0)
    clock.now += 3600
    pace(Waits(what="x", said=say(Passing.NO_WORKERS, detail="x")))
    work(pace, clock, range(5, 10), 2.0)
    assert pace.seconds_left == 20.0


def test_one_that_is_found_twice_counts_once_and_the_end_begins_anew(clock: Clock) -> None:
    """What rests is found again; after everything is done nothing is left of the count."""
    pace = Pace(clock)
    found(pace, 3)
    found(pace, 3)
    assert pace.all == 3
    work(pace, clock, range(3), 1.0)
    pace(Idle())
    assert (pace.done, pace.all) == (0, 0)


def progress_of(capsys: pytest.CaptureFixture[str]) -> list[tuple[int, int, int | None]]:
    """Return what the log says of progress."""
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines()]
    return [(line["done"], line["all"], line["seconds_left"]) for line in lines if line["event"] == "progress"]


def test_the_log_says_each_tenth_but_not_too_often(clock: Clock, capsys: pytest.CaptureFixture[str]) -> None:
    """A long work is said nine times; a short one not at all, and a fast one each half minute at most."""
    configure_log("json")
    for seconds, expected in (
        (10.0, [(number, 100, (100 - number) * 10) for number in range(10, 100, 10)]),
        (0.2, []),
        (1.0, [(31, 100, 69), (61, 100, 39), (91, 100, 9)]),
    ):
        log = LogReport(clock)
        log(Behind(number=100))
        for number in range(100):
            log(Behind(number=99 - number))
            work(log, clock, range(number, number + 1), seconds)
        log(Idle())
        assert progress_of(capsys) == expected


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [
        (0, "1 minute"), (89, "1 minute"), (91, "2 minutes"), (3540, "59 minutes"), (3590, "1 hour"),
        (6000, "1 hour 40 minutes"), (36000, "10 hours"), (47 * 3600, "47 hours"), (71 * 3600, "3 days"),
    ],
)  # fmt: skip
def test_durations_are_no_more_exact_than_an_estimate(seconds: float, expected: str) -> None:
    """Minutes, hours, days."""
    assert readable_duration(seconds) == expected
