"""What becomes of an original, from what the ledger knows of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.ledger import OriginalRow, OriginalState
from lanternslide.preview.predictions import Prediction, prediction_of
from lanternslide.records import Fingerprint
from lanternslide.words import Held

HERE = Fingerprint(size=10, mtime_ns=20, inode=2**64 - 1)
ROW = OriginalRow(
    id=1,
    photographer="ida",
    picture=Path("x.jpg"),
    path=Path("x.jpg"),
    fingerprint=HERE,
    digest=None,
    state=OriginalState.WAITING,
    reason_key=None,
    reason=None,
    attempts=0,
)


@pytest.mark.parametrize(
    ("state", "prediction"),
    [
        (OriginalState.WAITING, Prediction.WAITS),
        (OriginalState.WORKING, Prediction.WAITS),
        (OriginalState.GONE, Prediction.WAITS),
        (OriginalState.DELIVERED, Prediction.DONE),
        (OriginalState.WITHDRAWN, Prediction.WITHDRAWN),
    ],
)
def test_the_state_decides_while_the_file_is_as_it_was(state: OriginalState, prediction: Prediction) -> None:
    """What is done or taken back stays; another file under the path is made in any state."""
    assert prediction_of(HERE, replace(ROW, state=state)) == (prediction, None)
    assert prediction_of(replace(HERE, size=11), replace(ROW, state=state)) == (Prediction.CHANGED, None)


def test_what_nobody_knows_is_new() -> None:
    """Without a row it is made for the first time."""
    assert prediction_of(HERE, None) == (Prediction.NEW, None)


@pytest.mark.parametrize(
    ("reason", "prediction"),
    [
        (Held.CUT_SHORT, Prediction.HELD),
        (Held.FAILED_OFTEN, Prediction.HELD),
        (Held.UNKNOWN_TAG, Prediction.WAITS),
        (Held.TOO_MANY_PIXELS, Prediction.WAITS),
        (Held.NEEDS_MORE_MEMORY, Prediction.WAITS),
    ],
)
def test_what_the_config_can_take_away_is_looked_at_anew(reason: Held, prediction: Prediction) -> None:
    """A reason in the file itself holds until the file changes; one in the config is found out again."""
    row = replace(ROW, state=OriginalState.HELD, reason_key=reason.value, reason="because")

    found, said = prediction_of(HERE, row)

    assert found is prediction
    assert (said is None) == (prediction is Prediction.WAITS)
    assert said is None or said.text == "because"
