"""Why a state folder cannot be used, and as whom it can."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.errors import StateClosedError, StateError, StateOpenError
from lanternslide.ledger import StateLock
from lanternslide.ledger.state_folder.unusable import unusable, why

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


def failing(file: Path, statement: str, way: str = "mode=rw") -> sqlite3.Error:
    """Return how a statement on a database fails."""
    place = f"{file.as_uri()}?{way}"
    with (
        pytest.raises(sqlite3.Error) as raised,
        closing(sqlite3.connect(place, uri=True, timeout=0)) as connection,
    ):
        connection.execute(statement)
    return raised.value


def test_a_databases_faults_are_told_plainly(tmp_path: Path) -> None:
    """Its own words are for programmers; those of a fault that nobody foresaw stay."""
    file = tmp_path / "ledger.sqlite"
    with closing(sqlite3.connect(file)) as connection:
        connection.executescript("CREATE TABLE seal (a); CREATE INDEX by_a ON seal (a);")
        connection.executemany("INSERT INTO seal VALUES (?)", [(str(number) * 50,) for number in range(2000)])
        connection.commit()

    assert why(failing(file, "INSERT INTO seal VALUES (1)", "mode=ro")) == "it is read-only"
    assert why(failing(tmp_path / "none.sqlite", "SELECT 1")) == "the system does not open it"
    assert why(failing(file, "SELECT * FROM otter")) == "no such table: otter"
    assert why(sqlite3.ProgrammingError("closed")) == "closed"
    with closing(sqlite3.connect(file, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        assert why(failing(file, "SELECT * FROM seal")) == "another program holds it"
    data = bytearray(file.read_bytes())
    data[4096:] = b"\xa5" * (len(data) - 4096)
    file.write_bytes(data)
    assert why(failing(file, "SELECT count(*) FROM seal")) == "a part of it is missing or was overwritten"
    file.write_bytes(b"no ledger at all " * 500)
    assert why(failing(file, "SELECT * FROM seal")) == "it is no ledger, or was overwritten"


@pytest.mark.parametrize(
    ("mode", "refused"), [(0o700, False), (0o755, False), (0o770, False), (0o777, True), (0o1777, True)]
)
def test_a_folder_that_everybody_may_write_into_is_refused(tmp_path: Path, mode: int, *, refused: bool) -> None:
    """The command that closes it is in the words."""
    folder = tmp_path / "the state"
    folder.mkdir()
    folder.chmod(mode)

    if refused:
        with pytest.raises(StateOpenError, match=f"chmod 700 '{folder}'"), StateLock(folder, "test"):
            pass
    else:
        with StateLock(folder, "test"):
            pass
