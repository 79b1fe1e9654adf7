"""What files are like on Windows; everywhere else these say the usual.

No Windows is asked: what it answers is put in by hand, as its documentation says it.
"""

from __future__ import annotations

import errno
import os
import stat
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from lanternslide.records.windows import file_number, in_use, is_link, may_be_in_use, private_mode

JUNCTION, SYMLINK, KEPT_IN_A_CLOUD, PACKED = 0xA000_0003, 0xA000_000C, 0x9000_001A, 0x8000_0013
"""Reparse tags (Microsoft Learn, "Reparse Point Tags"; [MS-FSCC] 2.1.2.1)."""

DENIED, SHARED_WITH_NOBODY, LOCKED, NOT_FOUND = 5, 32, 33, 2
"""Microsoft Learn, "System Error Codes (0-499)"."""


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have the service believe that it runs on Windows."""
    monkeypatch.setattr(sys, "platform", "win32")


def refusal(code: int | None) -> OSError:
    """Return what Python raises for a system error of Windows; for None, what it raises elsewhere."""
    error = PermissionError(errno.EACCES, "The process cannot access the file")
    if code is not None:
        vars(error)["winerror"] = code
    return error


@pytest.mark.parametrize(
    ("mode", "tag", "link"),
    [
        (stat.S_IFDIR, JUNCTION, True),
        (stat.S_IFLNK, SYMLINK, True),
        (stat.S_IFREG, KEPT_IN_A_CLOUD, False),
        (stat.S_IFREG, PACKED, False),
        (stat.S_IFREG, 0, False),
        (stat.S_IFLNK, None, True),
        (stat.S_IFDIR, None, False),
    ],
)
def test_links_and_junctions(mode: int, tag: int | None, *, link: bool) -> None:
    """What stands for another name is a link, a junction too; a file that a cloud program keeps is a file."""
    found = SimpleNamespace(st_mode=mode) if tag is None else SimpleNamespace(st_mode=mode, st_reparse_tag=tag)

    assert is_link(cast("os.stat_result", found)) is link


def test_a_link_on_this_system(tmp_path: Path) -> None:
    """It is told by the status of the name itself."""
    (tmp_path / "file").touch()
    (tmp_path / "link").symlink_to("file")

    assert is_link((tmp_path / "link").lstat())
    assert not is_link((tmp_path / "link").stat())
    assert not is_link(tmp_path.lstat())


@pytest.mark.parametrize(
    ("code", "used", "perhaps"),
    [
        (SHARED_WITH_NOBODY, True, False),
        (LOCKED, True, False),
        (DENIED, False, True),
        (NOT_FOUND, False, False),
        (None, False, False),
    ],
)
def test_files_that_others_have_open(code: int | None, *, used: bool, perhaps: bool) -> None:
    """Two errors say so; one says that or a lack of rights; elsewhere than on Windows no error does."""
    assert in_use(refusal(code)) is used
    assert may_be_in_use(refusal(code)) is perhaps


def test_elsewhere_files_have_numbers_and_folders_are_private(tmp_path: Path) -> None:
    """Those that the file system gives, and open to their owner alone."""
    assert file_number(tmp_path.stat()) == os.stat(tmp_path).st_ino  # noqa: PTH116 - another way to ask
    assert private_mode() == 0o700


@pytest.mark.usefixtures("windows")
def test_on_windows_files_have_no_numbers_and_folders_the_usual_mode(tmp_path: Path) -> None:
    """A listing does not tell a number; 0o700 would shut out a task with least privilege."""
    assert file_number(tmp_path.stat()) == 0
    assert private_mode() == 0o777
