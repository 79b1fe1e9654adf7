"""What the ledger tells of many originals and deliveries, on a real SQLite file."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from lanternslide.ledger import Kept, Ledger, OriginalState, Published, Wanted
from lanternslide.ledger.database import query
from lanternslide.records import DroppedFile, Fingerprint, Record
from lanternslide.words import Held, say

CLUB = Wanted(destination="club", density=1, recipe="{}")


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """Return an empty ledger."""
    with Ledger(tmp_path) as ledger:
        yield ledger


def take_in(ledger: Ledger, name: str, *, owner: str = "ida", size: int = 1, day: int = 1) -> int:
    """Note a settled file that was last changed on a day of May 2026, and return its number."""
    changed = int(datetime(2026, 5, day, tzinfo=UTC).timestamp()) * 10**9
    fingerprint = Fingerprint(size=size, mtime_ns=changed, inode=1)
    file = DroppedFile(photographer=owner, drop=Path("/drop"), relative=Path(name), fingerprint=fingerprint)
    return ledger.originals.take_in(file, Path(name)).id


def intend(ledger: Ledger, name: str, digest: str, **file: Any) -> int:
    """Take an original in and write what is about to be published of it; return the delivery's number."""
    (row,) = ledger.deliveries.want(take_in(ledger, name, **file), f"of {digest}", [CLUB])
    record = Record(original=name, photographer="ida", state="delivered", digest=digest, version="0")
    intent = Published(path=Path("/out") / name, size=3, digest=digest)
    ledger.deliveries.intend(row.id, intent, made_from=f"of {digest}", kept=Kept(record=record))
    return row.id


def deliver(ledger: Ledger, name: str, at: str = "2026-05-01T12:00:00+00:00", **file: Any) -> None:
    """Have a delivery stand."""
    ledger.deliveries.confirm(intend(ledger, name, "d1", **file), at)


def listed(ledger: Ledger, since: datetime | None = None) -> list[tuple[str, str, str]]:
    """Return name, state and digest of the records."""
    found = map(json.loads, ledger.reading.record_lines(since))
    return [(record["original"], record["state"], record["digest"]) for record in found]


def test_records_come_oldest_first_and_since_a_time(ledger: Ledger) -> None:
    """By the time of delivery, whatever the order of making; the time given is one that counts."""
    for name, at in (
        ("b.jpg", "2026-05-02T23:59:59"),
        ("a.jpg", "2026-05-03T00:00:00"),
        ("c.jpg", "2026-05-01T01:00:00"),
    ):
        deliver(ledger, name, f"{at}+00:00")

    assert [name for name, _, _ in listed(ledger)] == ["c.jpg", "b.jpg", "a.jpg"]
    assert [name for name, _, _ in listed(ledger, datetime(2026, 5, 3, tzinfo=UTC))] == ["a.jpg"]


def test_what_was_never_delivered_has_no_record(ledger: Ledger) -> None:
    """A rename that did not happen is no delivery, also if the original is withdrawn then."""
    ledger.deliveries.take_back_intent(intend(ledger, "a.jpg", "d1"))
    assert listed(ledger) == []
    ledger.withdrawals.withdraw(1, None, None)
    assert listed(ledger) == []


def test_what_stands_while_a_newer_one_is_to_be_made(ledger: Ledger) -> None:
    """It is delivered still, and never told with the newer one's figures."""
    deliver(ledger, "a.jpg")
    ledger.deliveries.want(take_in(ledger, "a.jpg", size=2), "of d2", [CLUB])
    assert listed(ledger) == [("a.jpg", "delivered", "d1")]

    delivery = intend(ledger, "a.jpg", "d2", size=2)
    assert listed(ledger) == []
    ledger.deliveries.confirm(delivery, "2026-05-02T12:00:00+00:00")
    assert listed(ledger) == [("a.jpg", "delivered", "d2")]


def test_attempts_are_those_of_the_delivery(ledger: Ledger) -> None:
    """Failed attempts at what stands are told; of a newer state of the original they say nothing about it."""
    ledger.originals.count_attempt(take_in(ledger, "a.jpg"))
    deliver(ledger, "a.jpg")
    assert [json.loads(line)["attempts"] for line in ledger.reading.record_lines()] == [1]

    ledger.originals.count_attempt(take_in(ledger, "a.jpg", size=2))
    assert [json.loads(line)["attempts"] for line in ledger.reading.record_lines()] == [None]


def test_held_originals_since_a_time(ledger: Ledger) -> None:
    """By the time since when they are held; of earlier formats' that is not known, and their file's time counts."""
    for name, day in (("b.jpg", 5), ("a.jpg", 6), ("c.jpg", 4), ("old.jpg", 3)):
        ledger.originals.hold(take_in(ledger, name, day=3), say(Held.EMPTY), f"2026-05-0{day}T00:00:00+00:00")
    ledger._connection.execute("UPDATE original SET held_at = NULL WHERE picture = CAST('old.jpg' AS BLOB)")

    def since(day: int) -> list[str]:
        return [json.loads(line)["original"] for line in ledger.reading.held_lines(datetime(2026, 5, day, tzinfo=UTC))]

    assert [json.loads(line)["original"] for line in ledger.reading.held_lines()] == [
        "old.jpg",
        "c.jpg",
        "b.jpg",
        "a.jpg",
    ]
    assert since(3) == ["old.jpg", "c.jpg", "b.jpg", "a.jpg"]
    assert since(5) == ["b.jpg", "a.jpg"]
    assert (ledger.reading.number_held(), ledger.reading.number_held(before=datetime(2026, 5, 5, tzinfo=UTC))) == (4, 2)


def test_records_are_found_by_the_index_of_their_time(ledger: Ledger) -> None:
    """Nothing is sorted, and nothing older is read."""
    plan = [
        row["detail"] for row in ledger._connection.execute(f"EXPLAIN QUERY PLAN {query('records')}", {"since": ""})
    ]

    assert plan == [
        "SEARCH delivery USING INDEX delivery_delivered_at (delivered_at>?)",
        "SEARCH original USING INTEGER PRIMARY KEY (rowid=?)",
    ]


def test_the_first_of_many(ledger: Ledger) -> None:
    """Of originals in a state, and of deliveries no longer asked for, the first are told, of some photographers."""
    for owner in ("juno", "ida", "old"):
        for number in range(3):
            name = f"{owner}-{number}.jpg"
            deliver(ledger, name, owner=owner)
            ledger.deliveries.want(take_in(ledger, name, owner=owner), "of d1", [])

    waiting = ledger.reading.first_in(OriginalState.WAITING, ["juno", "ida"], 4)
    assert [str(row.path) for row in waiting] == ["ida-0.jpg", "ida-1.jpg", "ida-2.jpg", "juno-0.jpg"]
    assert ledger.reading.first_in(OriginalState.HELD, ["ida"], 4) == []
    number, first = ledger.reading.unwanted(["juno", "ida"], 4)
    assert (number, [str(row.stands) for row in first]) == (
        6, ["/out/ida-0.jpg", "/out/ida-1.jpg", "/out/ida-2.jpg", "/out/juno-0.jpg"],
    )  # fmt: skip
    assert ledger.reading.unwanted(["nobody"], 4) == (0, [])
