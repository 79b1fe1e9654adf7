"""What the ledger knows of originals."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.ledger import Kept, Ledger, OriginalState, Published
from lanternslide.words import Held, say
from tests.support.ledgers import CLUB, RECORD, file_of, publish, take_in


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a state folder."""
    return tmp_path


@pytest.fixture
def ledger(folder: Path) -> Iterator[Ledger]:
    """Open a new ledger."""
    with Ledger(folder) as opened:
        yield opened


def test_attempts_belong_to_one_state_of_a_file(ledger: Ledger) -> None:
    """Attempts add up while the file stays as it is, and begin anew when it changes or after it was held."""
    row = take_in(ledger)
    assert [ledger.originals.count_attempt(row.id), ledger.originals.count_attempt(row.id)] == [1, 2]
    assert take_in(ledger).attempts == 2
    assert take_in(ledger, size=2).attempts == 0
    ledger.originals.count_attempt(row.id)
    ledger.originals.hold(row.id, say(Held.EMPTY), "2026-11-26T09:00:00+00:00")
    assert take_in(ledger, size=2).attempts == 0


def test_held_and_counts(ledger: Ledger) -> None:
    """What is held is listed with its reason, and states are counted by photographer."""
    held, _ = take_in(ledger, "a.jpg"), take_in(ledger, "b.jpg")
    ledger.originals.hold(held.id, say(Held.EMPTY), "2026-11-26T09:00:00+00:00")

    assert [(row.path, row.reason_key) for row in ledger.reading.held()] == [(Path("a.jpg"), "empty")]
    assert ledger.reading.counts() == {("ida", OriginalState.HELD): 1, ("ida", OriginalState.WAITING): 1}


def test_what_was_worked_on_waits_after_a_restart(ledger: Ledger) -> None:
    """Work that was interrupted is given back; open intents are found."""
    row = take_in(ledger)
    (delivery,) = ledger.deliveries.want(row.id, "d1", [CLUB])
    ledger.originals.set_state(row.id, OriginalState.WORKING)
    intent = Published(path=Path("/out/x.jpg"), size=3, digest="j")
    ledger.deliveries.intend(delivery.id, intent, made_from="d1", kept=Kept(record=RECORD))

    ledger.originals.give_back_work()

    assert ledger.originals.known_of("ida")[b"grey-seal.jpg"].state is OriginalState.WAITING
    assert [row.intent for row in ledger.deliveries.open_intents()] == [intent]
    ledger.deliveries.take_back_intent(delivery.id)
    assert ledger.deliveries.open_intents() == []
    assert [row.state for row in ledger.deliveries.want(row.id, "d1", [CLUB])] == ["waiting"]


def test_a_finished_original_lies_where_it_was_delivered_from(ledger: Ledger) -> None:
    """What was filed away of a former export does not count any more; while something is left, it does."""
    row = take_in(ledger)
    (delivery,) = ledger.deliveries.want(row.id, "d1", [CLUB])
    ledger.originals.file_away(row.id, Path("/filed/former.jpg"))

    assert ledger.originals.finish(row.id, file_of()) is OriginalState.WAITING
    assert ledger.originals.get(row.id).filed_to == Path("/filed/former.jpg")
    publish(ledger, delivery)
    assert ledger.originals.finish(row.id, file_of()) is OriginalState.DELIVERED
    assert ledger.originals.get(row.id).filed_to is None
    ledger.originals.finish(row.id, replace(file_of(), filed=Path("/filed/now.jpg")))
    assert ledger.originals.get(row.id).filed_to == Path("/filed/now.jpg")
    ledger.originals.finish(row.id)
    assert ledger.originals.get(row.id).filed_to == Path("/filed/now.jpg")
