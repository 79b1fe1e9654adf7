"""Room that is kept for what must be possible on a full disk."""

from __future__ import annotations

from pathlib import Path

import pytest

from lanternslide.ledger import keep_reserve, release_reserve
from lanternslide.ledger.state_folder.reserve import AMPLE, RESERVE_BYTES


def test_room_is_kept_once_and_given_back_once(tmp_path: Path) -> None:
    """It takes blocks of the disk, and is not written again and again."""
    keep_reserve(tmp_path)
    (file,) = tmp_path.iterdir()
    before = file.stat()
    keep_reserve(tmp_path)

    assert before.st_size == RESERVE_BYTES
    assert before.st_blocks * 512 >= RESERVE_BYTES
    assert file.stat().st_mtime_ns == before.st_mtime_ns
    assert release_reserve(tmp_path)
    assert not release_reserve(tmp_path)


def test_none_is_kept_where_there_is_little_room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk is said to be nearly full; a real full one stands in `faults/test_state_away`."""
    monkeypatch.setattr("lanternslide.ledger.state_folder.reserve.shutil.disk_usage", lambda _folder: _Usage())

    keep_reserve(tmp_path)

    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_gone_is_no_fault(tmp_path: Path) -> None:
    """Nothing is kept."""
    keep_reserve(tmp_path / "gone")

    assert not release_reserve(tmp_path / "gone")


class _Usage:
    free = AMPLE * RESERVE_BYTES - 1
