"""What the ledger knows of the folders that were used."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from lanternslide.ledger import Folders, Ledger


@pytest.fixture(params=["at once", "by the next service"])
def again(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], Folders]]:
    """Return what gives the folders of a ledger: those that remember, or those of one that was opened anew."""
    with ExitStack() as stack:
        opened = [stack.enter_context(Ledger(tmp_path))]

        def folders() -> Folders:
            if request.param == "by the next service":
                stack.pop_all().close()
                opened.append(stack.enter_context(Ledger(tmp_path)))
            return opened[-1].folders

        yield folders


def test_used_folders_are_remembered(again: Callable[[], Folders]) -> None:
    """A destination's folder is known after its first use."""
    assert not again().has_used(Path("/out"))
    again().use(Path("/out"), Path("/"))
    again().use(Path("/out"), Path("/"))

    assert again().has_used(Path("/out"))
    assert again().used() == [Path("/out")]


def test_the_disk_of_a_folder_is_the_last_one_that_was_seen(again: Callable[[], Folders]) -> None:
    """A folder may move to another disk; of one that was never used none is known."""
    assert again().mount_of(Path("/mnt/nas/out")) is None
    again().use(Path("/mnt/nas/out"), Path("/mnt/nas"))
    assert again().mount_of(Path("/mnt/nas/out")) == Path("/mnt/nas")

    again().use(Path("/mnt/nas/out"), Path("/"))

    assert again().mount_of(Path("/mnt/nas/out")) == Path("/")
    assert again().mount_of(Path("/mnt/nas")) is None
    assert not again().has_used(Path("/mnt/nas"))


def test_folders_with_names_that_are_no_text(again: Callable[[], Folders]) -> None:
    """Paths are bytes."""
    folder = Path(os.fsdecode(b"/out/caf\xe9"))

    again().use(folder, folder.parent)

    assert again().used() == [folder]
    assert again().mount_of(folder) == Path("/out")


def test_a_folder_of_an_earlier_version_has_no_known_disk(again: Callable[[], Folders]) -> None:
    """It was used all the same; its next use tells the disk."""
    again()._connection.execute("INSERT INTO used_folder (path) VALUES (?)", (b"/out",))

    assert (again().has_used(Path("/out")), again().mount_of(Path("/out"))) == (True, None)
    again().use(Path("/out"), Path("/"))
    assert again().mount_of(Path("/out")) == Path("/")
