"""File systems that cannot sync a folder."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

import pytest

from lanternslide.delivery import publish_new, publish_over, remove_delivery, write_temporary
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import Ledger


def refuse(monkeypatch: pytest.MonkeyPatch, number: int, *, folders: bool) -> None:
    """Have the system refuse to sync folders, or files, with this error."""
    fsync = os.fsync

    def refused(descriptor: int) -> None:
        if stat.S_ISDIR(os.fstat(descriptor).st_mode) == folders:
            raise OSError(number, os.strerror(number))
        fsync(descriptor)

    monkeypatch.setattr(os, "fsync", refused)


@pytest.mark.parametrize("number", [errno.EINVAL, errno.ENOTSUP])
def test_a_folder_that_cannot_be_synced_is_used(number: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Everything is published, replaced and deleted there, and a ledger is made."""
    refuse(monkeypatch, number, folders=True)
    first, second, target = tmp_path / ".a", tmp_path / ".b", tmp_path / "x.jpg"
    write_temporary(first, b"a")
    assert publish_new(first, target)
    write_temporary(second, b"b")
    publish_over(second, target)
    assert target.read_bytes() == b"b"
    remove_delivery(target)
    assert list(tmp_path.iterdir()) == []
    with Ledger(tmp_path) as ledger:
        assert ledger.faults() == []


def test_other_errors_of_a_folder_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that fails is no such file system."""
    refuse(monkeypatch, errno.EIO, folders=True)
    write_temporary(tmp_path / ".a", b"a")
    with pytest.raises(PassingFaultError):
        publish_new(tmp_path / ".a", tmp_path / "x.jpg")


def test_a_file_that_cannot_be_synced_is_not_published(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its bytes may not be on the disk."""
    refuse(monkeypatch, errno.EINVAL, folders=False)
    with pytest.raises(PassingFaultError):
        write_temporary(tmp_path / ".a", b"a")
    assert list(tmp_path.iterdir()) == []
