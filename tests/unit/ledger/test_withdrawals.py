"""What its owner takes back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.ledger import Ledger, OriginalState
from tests.support.ledgers import CLUB, JOURNAL, publish, take_in


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a state folder."""
    return tmp_path


@pytest.fixture
def ledger(folder: Path) -> Iterator[Ledger]:
    """Open a new ledger."""
    with Ledger(folder) as opened:
        yield opened


def test_what_is_taken_back_stays_so_until_its_original_changes(ledger: Ledger) -> None:
    """The same bytes do not bring it back; other bytes do, and so does a retry."""
    row = take_in(ledger)
    club, journal = ledger.deliveries.want(row.id, "d1", [CLUB, JOURNAL[0]])
    for item in (club, journal):
        publish(ledger, item)
    assert ledger.originals.finish(row.id) is OriginalState.DELIVERED
    ledger.withdrawals.withdraw(row.id, "club", row.fingerprint)
    assert [item.id for item in ledger.withdrawals.open()] == [club.id]
    ledger.withdrawals.note_withdrawn(club.id)
    assert ledger.withdrawals.open() == []
    assert ledger.originals.get(row.id).state is OriginalState.DELIVERED
    assert ledger.deliveries.want(row.id, "d1", [CLUB, JOURNAL[0]]) == []
    assert [item.destination for item in ledger.deliveries.want(row.id, "d2", [CLUB])] == ["club"]
    ledger.withdrawals.withdraw(row.id, None, row.fingerprint)
    assert ledger.originals.get(row.id).state is OriginalState.WITHDRAWN
    ledger.withdrawals.retry(row.id)
    assert ledger.originals.get(row.id).state is OriginalState.WAITING
    assert len(ledger.deliveries.want(row.id, "d1", [CLUB, JOURNAL[0]])) == 2
