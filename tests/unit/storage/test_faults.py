"""What it means when a folder cannot be written."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from lanternslide.storage.faults import folder_fault
from lanternslide.words import Passing, say


@pytest.mark.parametrize(
    ("number", "key"),
    [
        (errno.ENOSPC, Passing.DISK_FULL),
        (errno.EDQUOT, Passing.DISK_FULL),
        (errno.EROFS, Passing.READ_ONLY),
        (errno.EACCES, Passing.DESTINATION_NOT_PERMITTED),
        (errno.EPERM, Passing.DESTINATION_NOT_PERMITTED),
    ],
)
def test_faults_are_told_apart(number: int, key: Passing) -> None:
    """What the system answers is told in words of its own, which name the folder."""
    said = folder_fault(Path("out/club"), OSError(number, os.strerror(number))).said

    assert said == say(key, folder=Path("out/club"))
    assert "out/club" in said.text


@pytest.mark.parametrize(
    ("error", "detail"),
    [
        (OSError(errno.ENOENT, "No such file or directory"), "No such file or directory"),
        (OSError(errno.EIO, "Input/output error"), "Input/output error"),
        (OSError("what a library says"), "what a library says"),
    ],
)
def test_any_other_fault_is_told_as_the_system_tells_it(error: OSError, detail: str) -> None:
    """With whatever is known of it."""
    assert folder_fault(Path("out"), error).said == say(Passing.FOLDER_TROUBLE, folder=Path("out"), detail=detail)
