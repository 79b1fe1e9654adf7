"""What the ledger knows of the folders that were used."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.ledger import Ledger


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """Open a new ledger."""
    with Ledger(tmp_path) as opened:
        yield opened


def test_used_folders_are_remembered(ledger: Ledger) -> None:
    """A destination's folder is known after its first use."""
    assert not ledger.folders.has_used(Path("/out"))
    ledger.folders.use(Path("/out"), Path("/"))
    ledger.folders.use(Path("/out"), Path("/"))

    assert ledger.folders.has_used(Path("/out"))
    assert ledger.folders.used() == [Path("/out")]


def test_the_disk_of_a_folder_is_the_last_one_that_was_seen(ledger: Ledger) -> None:
    """A folder may move to another disk; of one that was never used none is known."""
    assert ledger.folders.mount_of(Path("/mnt/nas/out")) is None
    ledger.folders.use(Path("/mnt/nas/out"), Path("/mnt/nas"))
    assert ledger.folders.mount_of(Path("/mnt/nas/out")) == Path("/mnt/nas")

    ledger.folders.use(Path("/mnt/nas/out"), Path("/"))

    assert ledger.folders.mount_of(Path("/mnt/nas/out")) == Path("/")
    assert ledger.folders.mount_of(Path("/mnt/nas")) is None
    assert not ledger.folders.has_used(Path("/mnt/nas"))


def test_folders_with_names_that_are_no_text(ledger: Ledger) -> None:
    """Paths are bytes."""
    folder = Path(os.fsdecode(b"/out/caf\xe9"))

    ledger.folders.use(folder, folder.parent)

    assert ledger.folders.used() == [folder]
    assert ledger.folders.mount_of(folder) == Path("/out")


def test_a_folder_of_an_earlier_version_has_no_known_disk(ledger: Ledger) -> None:
    """It was used all the same; its next use tells the disk."""
    ledger._connection.execute("INSERT INTO used_folder (path) VALUES (?)", (b"/out",))

    assert (ledger.folders.has_used(Path("/out")), ledger.folders.mount_of(Path("/out"))) == (True, None)
    ledger.folders.use(Path("/out"), Path("/"))
    assert ledger.folders.mount_of(Path("/out")) == Path("/")
