"""How many pictures are made at a time, as far as is known."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.config import Settings
from lanternslide.config.settings import Service
from lanternslide.ledger import Ledger
from lanternslide.requests.slots import SLOTS_NOTE, slots_known

CLUSTER = "dask://127.0.0.1:8786"


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """Return a ledger."""
    with Ledger(tmp_path) as ledger:
        yield ledger


@pytest.mark.parametrize(
    ("executor", "noted", "places"),
    [("local", None, 2), ("local", "8", 2), (CLUSTER, None, 2), (CLUSTER, "8", 8), (CLUSTER, "0", 1)],
)
def test_a_time_is_estimated_by_the_workers_that_were_there_last(
    ledger: Ledger, executor: str, noted: str | None, places: int
) -> None:
    """A cluster's, as far as they were ever noted; none at the moment counts as one."""
    if noted is not None:
        ledger.notes.put(SLOTS_NOTE, noted)
    settings = Settings(service=Service.model_validate({"workers": 2, "memory": "2 GiB", "executor": executor}))

    assert slots_known(settings, ledger) == places
