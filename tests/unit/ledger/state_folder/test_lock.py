"""One service for one state folder."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from lanternslide.errors import StateError, StateLockedError
from lanternslide.ledger import StateLock, ask_holder, holder_of


def test_a_state_folder_has_one_service(tmp_path: Path) -> None:
    """A second process is refused and told who holds the folder; after that one ends, the folder is free."""
    holder = (
        "import sys; from pathlib import Path; from lanternslide.ledger import StateLock\n"
        "with StateLock(Path(sys.argv[1]), 'lanternslide watch'):\n    print('held', flush=True); sys.stdin.read()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", holder, str(tmp_path)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": "service"},
    ) as process:  # fmt: skip
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        with (
            pytest.raises(StateLockedError, match=f"lanternslide watch, process {process.pid}"),
            StateLock(tmp_path, "me"),
        ):
            pass
        process.communicate("")

    with StateLock(tmp_path, "me"):
        pass


def test_who_comes_second_is_told_who_was_first(tmp_path: Path) -> None:
    """And may come once that one has ended; entering again is no trouble."""
    with StateLock(tmp_path, "lanternslide watch"):
        with (
            pytest.raises(StateLockedError, match=f"in use by lanternslide watch, process {os.getpid()}\\."),
            StateLock(tmp_path, "lanternslide sweep", patience=0),
        ):
            pass
        assert ask_holder(tmp_path) == f"lanternslide watch, process {os.getpid()}"

    for command in ("sweep", "retry"):
        with StateLock(tmp_path, f"lanternslide {command}", patience=0):
            assert holder_of(tmp_path) == f"lanternslide {command}, process {os.getpid()}"
    assert holder_of(tmp_path) is None


def test_an_error_lets_go_too(tmp_path: Path) -> None:
    """However the work ends."""
    with pytest.raises(KeyError), StateLock(tmp_path, "lanternslide watch"):
        raise KeyError

    assert ask_holder(tmp_path) is None


def test_asking_keeps_nobody_out(tmp_path: Path) -> None:
    """Whoever asks holds nothing afterwards, and leaves no lock where nobody ever worked."""
    assert ask_holder(tmp_path) is None
    assert holder_of(tmp_path / "away") is None
    assert list(tmp_path.iterdir()) == []

    with StateLock(tmp_path, "lanternslide watch"):
        pass
    assert ask_holder(tmp_path) is None
    with StateLock(tmp_path, "lanternslide watch", patience=0):
        pass


def test_a_holder_without_a_name_is_one_all_the_same(tmp_path: Path) -> None:
    """Between taking the lock and writing down who has it lies a moment."""
    with StateLock(tmp_path, "lanternslide watch"):
        (tmp_path / "lock").write_bytes(b"")

        assert holder_of(tmp_path) == "another lanternslide"


def test_the_folder_is_made_for_the_service_alone(tmp_path: Path) -> None:
    """With all that is missing above it; nobody else looks into it."""
    folder = tmp_path / "deep" / "state"

    with StateLock(folder, "lanternslide watch"):
        pass

    if sys.platform != "win32":
        assert folder.stat().st_mode & 0o777 == 0o700


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    """A file is in its place; that nobody can be asked is told apart from that nobody is there."""
    (tmp_path / "state").touch()

    with (
        pytest.raises(StateError, match="cannot be used"),
        StateLock(tmp_path / "state", "lanternslide watch"),
    ):
        pass
    with pytest.raises(OSError):
        ask_holder(tmp_path / "state")
    assert holder_of(tmp_path / "state") is None


def test_a_full_disk_is_said_and_lets_go(tmp_path: Path) -> None:
    """A lock whose holder cannot be written down is not kept."""
    if not Path("/dev/full").exists():
        pytest.skip("this system has no device that is always full")
    (tmp_path / "lock").symlink_to("/dev/full")

    with pytest.raises(StateError, match="cannot be used"), StateLock(tmp_path, "lanternslide watch", patience=0):
        pass
    assert ask_holder(tmp_path) is None
