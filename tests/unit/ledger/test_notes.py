"""What the service notes for itself."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.ledger import Ledger


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a state folder."""
    return tmp_path


@pytest.fixture
def ledger(folder: Path) -> Iterator[Ledger]:
    """Open a new ledger."""
    with Ledger(folder) as opened:
        yield opened


def test_what_is_noted_is_remembered(ledger: Ledger) -> None:
    """One value for each name, and all names that begin alike."""
    assert ledger.notes.get("max_megapixels") is None
    for value in ("100", "200"):
        ledger.notes.put("max_megapixels", value)
        assert ledger.notes.get("max_megapixels") == value
    ledger.notes.put("drop/ida", "2f")
    assert ledger.notes.below("drop/") == [("ida", "2f")]
