"""What can be told about destinations' folders, and what cannot."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from lanternslide.delivery import reachability as module
from lanternslide.delivery.reachability import Reachability
from lanternslide.errors import PassingFaultError
from lanternslide.ledger import Ledger
from lanternslide.storage.mounts import Mount, mounts
from lanternslide.storage.probe import Probe
from lanternslide.words import Passing
from tests.support.hanging import DEADLINE, Share

ROOT = Path("/")
"""Where something is always mounted."""


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """Return a ledger of its own."""
    (tmp_path / "state").mkdir()
    with Ledger(tmp_path / "state") as ledger:
        yield ledger


@pytest.fixture
def reachability(ledger: Ledger) -> Reachability:
    """Return what is known of folders."""
    return Reachability(ledger.folders, Probe(DEADLINE))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return an empty folder that nothing was put into yet."""
    folder = tmp_path / "out" / "club"
    folder.mkdir(parents=True)
    return folder


@pytest.fixture
def gone(tmp_path: Path) -> Path:
    """Return where a disk was mounted that is not any more."""
    return tmp_path / "mnt"


def fault_of(reachability: Reachability, folder: Path) -> Passing | None:
    """Return why it cannot be believed what a folder shows; None if it can."""
    try:
        reachability.check(folder, "club")
    except PassingFaultError as fault:
        return Passing(fault.said.key)
    return None


def fault_of_file(reachability: Reachability, path: Path) -> Passing | None:
    """Return why it cannot be told whether a file stands at *path*; None if it can."""
    try:
        reachability.check_file(path, "club")
    except PassingFaultError as fault:
        return Passing(fault.said.key)
    return None


def test_a_folder_is_known_once_it_was_used(reachability: Reachability, ledger: Ledger, folder: Path) -> None:
    """With the disk that it really lies on, which is the nearest mount above it."""
    assert not reachability.has_used(folder)
    reachability.use(folder)

    assert reachability.has_used(folder)
    assert not reachability.has_used(folder.parent)
    real, mounted = folder.resolve(), {mount.folder for mount in mounts()}
    assert ledger.folders.mount_of(folder) == next(above for above in (real, *real.parents) if above in mounted)


def test_the_table_of_mounts_is_read_once_a_second(
    reachability: Reachability, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Noting folders that are there costs nothing more; whether a disk is still there is asked anew each time."""
    now, read = [1000.0], []

    def table() -> list[Mount]:
        read.append(now[0])
        return mounts()

    monkeypatch.setattr(module, "mounts", table)
    monkeypatch.setattr(time, "monotonic", lambda: now[0])
    for now[0] in (1000.0, 1000.5, 1000.9, 1001.0, 1001.5):
        reachability.use(folder)
    assert read == [1000.0, 1001.0]

    reachability.check_file(folder / "seal.jpg", "club")
    reachability.check_file(folder / "seal.jpg", "club")
    assert read == [1000.0, 1001.0, 1001.5, 1001.5, 1001.5, 1001.5]


def test_a_disk_that_has_just_come_is_noted(
    reachability: Reachability, ledger: Ledger, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is not known yet, or known otherwise, is not noted by an old table (which is simulated)."""
    now, mounted = [1000.0], [ROOT]
    other, disk = folder / "other", folder.resolve()
    other.mkdir()

    def table() -> list[Mount]:
        return [next(iter(mounts()))._replace(folder=path) for path in mounted]

    monkeypatch.setattr(module, "mounts", table)
    monkeypatch.setattr(time, "monotonic", lambda: now[0])
    monkeypatch.setattr(os.path, "ismount", lambda _path: False)
    reachability.use(folder)
    assert ledger.folders.mount_of(folder) != disk

    now[0], mounted[1:] = 1000.5, [disk]
    reachability.use(other)
    assert ledger.folders.mount_of(other) == disk
    reachability.use(folder)
    assert ledger.folders.mount_of(folder) == disk


def test_a_link_lies_on_the_disk_that_it_leads_to(
    reachability: Reachability, ledger: Ledger, tmp_path: Path, folder: Path
) -> None:
    """What counts is where a folder really lies."""
    link = tmp_path / "link"
    link.symlink_to("/proc")
    if Path("/proc") not in {mount.folder for mount in mounts()}:
        pytest.skip("nothing is mounted there on this system")
    reachability.use(link)
    reachability.use(folder)

    assert ledger.folders.mount_of(link) == Path("/proc") != ledger.folders.mount_of(folder)


# What a folder shows


@pytest.mark.parametrize("holds", [None, ".hidden", "seal.jpg"])
@pytest.mark.parametrize("was", ["never used", "its disk is mounted", "its disk is not mounted"])
def test_an_empty_folder_is_not_believed_without_its_disk(
    reachability: Reachability, ledger: Ledger, folder: Path, gone: Path, was: str, holds: str | None
) -> None:
    """An unmounted share leaves one behind, with hidden files at most; nobody may take it for the destination."""
    if was != "never used":
        ledger.folders.use(folder, ROOT if was == "its disk is mounted" else gone)
    if holds is not None:
        (folder / holds).touch()

    is_away = was == "its disk is not mounted" and holds != "seal.jpg"
    assert fault_of(reachability, folder) == (Passing.DESTINATION_UNMOUNTED if is_away else None)


def test_the_fault_names_the_disk(reachability: Reachability, ledger: Ledger, folder: Path, gone: Path) -> None:
    """Its owner is told what to connect."""
    ledger.folders.use(folder, gone)

    with pytest.raises(PassingFaultError) as fault:
        reachability.check(folder, "club")

    assert all(name in fault.value.said.text for name in (str(gone), str(folder), "club"))


def test_a_folder_may_be_absent(reachability: Reachability, ledger: Ledger, folder: Path, gone: Path) -> None:
    """The nearest one above it decides, where that is a destination's too."""
    below = folder / "islands" / "deep"
    assert fault_of(reachability, below) is None
    ledger.folders.use(folder, gone)
    assert fault_of(reachability, below) is Passing.DESTINATION_UNMOUNTED
    ledger.folders.use(folder, ROOT)
    assert fault_of(reachability, below) is None


def test_a_folder_that_hangs_is_silent(reachability: Reachability, folder: Path) -> None:
    """Nothing that it shows later counts either, as long as it has not answered."""
    with Share.made() as share:
        share.hang(folder)

        assert fault_of(reachability, folder) is Passing.DESTINATION_SILENT
        assert fault_of_file(reachability, folder / "seal.jpg") is Passing.DESTINATION_SILENT
        assert not reachability.is_gone(folder / "seal.jpg", "club")
        assert reachability.answers(folder.parent)


def test_a_disk_that_hangs_is_waited_for_once(
    reachability: Reachability, ledger: Ledger, tmp_path: Path, gone: Path
) -> None:
    """Not once for each folder that lies on it, under whatever name."""
    folders = [tmp_path / "out" / str(number) for number in range(3)]
    for folder in folders:
        folder.mkdir(parents=True)
        ledger.folders.use(folder, gone)
    with Share.made() as share:
        share.hang(gone)

        assert not any(reachability.answers(folder) for folder in folders)
        assert share.asked == [gone]


# What stands at a path


def test_what_stands_or_was_deleted_can_be_told(reachability: Reachability, folder: Path) -> None:
    """The folder is there and answers."""
    reachability.use(folder)
    path = folder / "seal.jpg"
    assert (fault_of_file(reachability, path), reachability.is_gone(path, "club")) == (None, True)
    path.touch()
    assert (fault_of_file(reachability, path), reachability.is_gone(path, "club")) == (None, False)


@pytest.mark.parametrize("holds", [None, "seal.jpg"])
def test_without_the_disk_nothing_can_be_told(
    reachability: Reachability, ledger: Ledger, folder: Path, gone: Path, holds: str | None
) -> None:
    """Whatever lies in its place: what cannot be seen has not been deleted."""
    ledger.folders.use(folder, gone)
    if holds is not None:
        (folder / holds).touch()
        assert fault_of(reachability, folder) is None, "something can be put there all the same"

    for name in ("seal.jpg", "gull.jpg"):
        assert fault_of_file(reachability, folder / name) is Passing.DESTINATION_UNMOUNTED
        assert not reachability.is_gone(folder / name, "club")


def test_a_folder_that_was_deleted_inside_a_destination_takes_its_files_along(
    reachability: Reachability, folder: Path
) -> None:
    """They are certainly gone then; of a destination's own folder that is not said, it may be a share."""
    inside, places_used = folder / "islands", (folder, folder / "islands")
    inside.mkdir()
    for used in places_used:
        reachability.use(used)
    (folder / "gull.jpg").touch()
    inside.rmdir()
    assert fault_of_file(reachability, inside / "seal.jpg") is None

    (folder / "gull.jpg").unlink()
    folder.rmdir()
    (folder.parent / "something").touch()
    assert fault_of_file(reachability, inside / "seal.jpg") is Passing.DESTINATION_AWAY
    assert fault_of_file(reachability, folder / "seal.jpg") is Passing.DESTINATION_AWAY


def test_where_a_folder_was_moved_away_its_files_are_gone(reachability: Reachability, folder: Path) -> None:
    """Nothing stands at that path any longer, though it may stand elsewhere."""
    reachability.use(folder)
    (folder / "seal.jpg").touch()
    folder.rename(folder.with_name("elsewhere"))

    assert reachability.is_gone(folder / "seal.jpg", "club")


def test_where_the_system_does_not_say_nothing_is_gone(reachability: Reachability, folder: Path) -> None:
    """A name that it refuses to look up may be taken."""
    reachability.use(folder)

    assert not reachability.is_gone(folder / ("x" * 300), "club")
