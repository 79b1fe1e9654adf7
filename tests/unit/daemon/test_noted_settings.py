"""What a service notes of its settings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.config.limits import Limits
from lanternslide.daemon.noted_settings import note_settings
from lanternslide.ledger import OriginalState
from lanternslide.words import Held, Said
from tests.support.household import Household, household


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Household]:
    """Return a home of Ida and Juno."""
    with household(tmp_path) as home:
        yield home


@pytest.mark.parametrize(
    ("reason", "change", "state"),
    [
        (Held.TOO_MANY_PIXELS, {"max_megapixels": 99.0}, OriginalState.WAITING),
        (Held.NEEDS_MORE_MEMORY, {"memory_mib": 99.0}, OriginalState.WAITING),
        (Held.TOO_MANY_PIXELS, {}, OriginalState.HELD),
        (Held.CUT_SHORT, {"max_megapixels": 99.0}, OriginalState.HELD),
    ],
)
def test_what_was_held_for_a_limit_is_tried_again_once_that_has_changed(
    home: Household, reason: Held, change: dict[str, float], state: OriginalState
) -> None:
    """What is held for another reason waits for its owner."""
    limits = Limits.of(home.settings.service)
    note_settings(home.ledger, home.settings, limits)
    file = home.drop("seal.jpg")
    home.decisions.hold(home.item(file).original, file, Said(key=reason.value, text="because"))

    note_settings(home.ledger, home.settings, replace(limits, **change))  # type: ignore[arg-type]

    assert home.row(file).state is state


def test_drop_folders_are_noted_for_who_has_left_the_config(home: Household) -> None:
    """A command finds their pictures by the path that they had."""
    note_settings(home.ledger, home.settings, Limits.of(home.settings.service))

    noted = {name: bytes.fromhex(folder).decode() for name, folder in home.ledger.notes.below("drop/")}
    assert noted == {name: str(owner.drop) for name, owner in home.settings.photographers.items()}
