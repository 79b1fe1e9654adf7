"""Why a state folder cannot be used, and as whom it can."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from lanternslide.errors import StateClosedError, StateError
from lanternslide.ledger.unusable import unusable

pwd = pytest.importorskip("pwd", reason="owners have no names on this system")

CLOSED = PermissionError(13, "Permission denied")
NOBODYS = 54_321
"""A user's number without a user."""


def foreign(folder: Path) -> tuple[Path, str]:
    """Return a folder of another user, and who that is."""
    if os.geteuid() != 0:
        return Path("/"), pwd.getpwuid(0).pw_name
    os.chown(folder, pwd.getpwnam("nobody").pw_uid, -1)
    return folder, "nobody"


def test_another_users_folder_says_as_whom(tmp_path: Path) -> None:
    """The command that would do is in the words."""
    folder, owner = foreign(tmp_path)

    found = unusable(folder, CLOSED)

    assert isinstance(found, StateClosedError)
    assert found.exit_status == 4
    assert f"{folder} belongs to the user {owner}" in str(found)
    assert f"sudo -u {owner}" in str(found)


def test_another_fault_is_not_the_users(tmp_path: Path) -> None:
    """A full disk is full for everybody."""
    folder, _ = foreign(tmp_path)

    found = unusable(folder, OSError(28, "No space left on device"))

    assert type(found) is StateError
    assert str(found) == f"The state folder {folder} cannot be used (No space left on device)."


def test_ones_own_folder_that_is_closed_is_plain(tmp_path: Path) -> None:
    """Being somebody else would not help; nor is anybody named where the folder is not there."""
    assert type(unusable(tmp_path, CLOSED)) is StateError
    assert type(unusable(tmp_path / "away", CLOSED)) is StateError


@pytest.mark.skipif(os.geteuid() != 0, reason="only root gives a folder away")
def test_an_owner_without_a_name_cannot_be_named(tmp_path: Path) -> None:
    """As of a disk that comes from another machine."""
    os.chown(tmp_path, NOBODYS, -1)

    assert type(unusable(tmp_path, CLOSED)) is StateError
