"""The stop file: how a service is asked to end by whoever cannot send it a signal."""

from __future__ import annotations

from pathlib import Path

import pytest

from lanternslide.ledger import ask_to_stop, take_stop_request


def test_a_service_is_asked_once(tmp_path: Path) -> None:
    """However often it was asked before it looked; the next service does not stop by it."""
    assert not take_stop_request(tmp_path)
    ask_to_stop(tmp_path)
    ask_to_stop(tmp_path)

    assert take_stop_request(tmp_path)
    assert not take_stop_request(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_an_owner_may_make_the_file_by_hand(tmp_path: Path) -> None:
    """It is called `stop` and lies in the state folder, whatever stands in it."""
    (tmp_path / "stop").write_text("please")

    assert take_stop_request(tmp_path)


def test_what_cannot_be_taken_away_is_no_reason_to_stop(tmp_path: Path) -> None:
    """The next service would stop by it, too."""
    (tmp_path / "stop").mkdir()

    with pytest.raises(OSError):
        take_stop_request(tmp_path)


def test_a_folder_that_takes_nothing_is_told(tmp_path: Path) -> None:
    """Whoever asks hears that nobody was asked."""
    with pytest.raises(OSError):
        ask_to_stop(tmp_path / "away")
