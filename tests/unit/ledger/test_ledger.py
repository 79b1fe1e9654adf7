"""The ledger on a real SQLite file."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.errors import StateUnwritableError
from lanternslide.ledger import Ledger, OriginalState
from tests.support.ledgers import CLUB, JOURNAL, file_of, publish, take_in


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a state folder."""
    return tmp_path


@pytest.fixture
def ledger(folder: Path) -> Iterator[Ledger]:
    """Open a new ledger."""
    with Ledger(folder) as opened:
        yield opened


def test_a_life(ledger: Ledger) -> None:
    """An original waits, is worked on, and is delivered when all that it asks for stands."""
    row = take_in(ledger)
    assert (row.state, row.attempts, row.digest) == (OriginalState.WAITING, 0, None)

    wanted = ledger.deliveries.want(row.id, "d1", [CLUB, *JOURNAL])
    assert [(item.destination, item.density) for item in wanted] == [("club", 1), ("journal", 1), ("journal", 2)]
    publish(ledger, wanted[0])
    assert ledger.originals.finish(row.id) is OriginalState.WAITING
    publish(ledger, wanted[1])
    ledger.deliveries.leave_out(wanted[2].id, "d1")
    assert ledger.originals.finish(row.id) is OriginalState.DELIVERED

    assert [item.state for item in ledger.deliveries.of_original(row.id)] == ["delivered", "delivered", "left out"]
    assert [json.loads(line)["delivered_at"] for line in ledger.reading.record_lines()] == [
        "2026-11-25T12:00:00+00:00"
    ] * 2


def test_everything_survives_a_restart(folder: Path) -> None:
    """What was noted is there after closing and opening, with the ledger's own name."""
    with Ledger(folder) as before:
        row = take_in(before, os.fsdecode(b"caf\xe9.jpg"))
        (delivery,) = before.deliveries.want(row.id, "d1", [CLUB])
        publish(before, delivery, name=os.fsdecode(b"caf\xe9.jpg"))
        name = before.name

    with Ledger(folder) as after:
        assert after.name == name
        ((path, known),) = after.originals.known_of("ida").items()
        assert path == b"caf\xe9.jpg"
        row = after.originals.get(known.id)
        assert row.known == known
        assert row.fingerprint == file_of().fingerprint
        (found,) = after.deliveries.of_original(row.id)
        assert found.output is not None
        assert after.deliveries.owner_of(found.output.path) == found


def test_a_ledger_can_be_read_beside_its_service(folder: Path, ledger: Ledger) -> None:
    """Reading changes nothing and sees what was committed; where there is no ledger there is none to read."""
    take_in(ledger)
    reader = Ledger.to_read(folder)
    assert reader is not None
    with reader:
        assert reader.reading.counts() == {("ida", OriginalState.WAITING): 1}
        assert reader.faults() == []
        with pytest.raises(StateUnwritableError, match="read-only"):
            take_in(reader, "another.jpg")
    assert Ledger.to_read(folder / "none") is None
