"""Destinations' folders are there, are made once, or are away."""

from __future__ import annotations

import os
import shutil
import stat
import sys
from pathlib import Path

import pytest

from lanternslide.errors import PassingFaultError
from lanternslide.storage import check_folder, ready_folder
from lanternslide.words import Passing


@pytest.mark.parametrize(
    ("is_there", "is_fixed_there", "used", "usable"),
    [
        (True, True, True, True),
        (True, True, False, True),
        (False, True, False, True),
        (False, True, True, False),
        (False, False, False, False),
        (False, False, True, False),
    ],
)
def test_a_folder_is_there_or_may_be_made(
    tmp_path: Path, *, is_there: bool, is_fixed_there: bool, used: bool, usable: bool
) -> None:
    """It is made once, below one that is there; later its absence may be that of a disk. To look makes nothing."""
    fixed = tmp_path / "disk"
    folder = fixed / "ida" / "portfolio"
    if is_fixed_there:
        fixed.mkdir()
    if is_there:
        folder.mkdir(parents=True)

    for act in (
        lambda: check_folder(fixed, folder, destination="portfolio", used=used),
        lambda: ready_folder(fixed, folder, Path("islands/deep"), destination="portfolio", used=used),
    ):
        assert folder.exists() is is_there
        if usable:
            act()
        else:
            with pytest.raises(PassingFaultError) as fault:
                act()
            assert fault.value.said.key == Passing.DESTINATION_AWAY
            assert "portfolio" in fault.value.said.text

    assert (folder / "islands" / "deep").is_dir() is usable
    assert fixed.exists() is is_fixed_there


def test_deeper_folders_are_made_as_needed(tmp_path: Path) -> None:
    """Also when the destination was used before, and when some of them are there."""
    folder = tmp_path / "out"
    assert ready_folder(tmp_path, folder, Path(), destination="club", used=False) == folder
    ready = ready_folder(tmp_path, folder, Path("islands/deep"), destination="club", used=True)

    assert ready == folder / "islands" / "deep"
    assert ready.is_dir()
    shutil.rmtree(ready)
    assert ready_folder(tmp_path, folder, Path("islands/deep"), destination="club", used=True).is_dir()


def test_what_is_in_the_way_of_a_folder_is_a_fault(tmp_path: Path) -> None:
    """A file that is called so is kept."""
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "islands").write_bytes(b"theirs")

    with pytest.raises(PassingFaultError) as fault:
        ready_folder(tmp_path, tmp_path / "out", Path("islands"), destination="club", used=True)

    assert fault.value.said.key == Passing.FOLDER_TROUBLE
    assert (tmp_path / "out" / "islands").read_bytes() == b"theirs"


def test_a_name_that_the_system_refuses_is_a_fault(tmp_path: Path) -> None:
    """It is not taken for a folder that is away."""
    with pytest.raises(PassingFaultError) as fault:
        check_folder(tmp_path, tmp_path / ("x" * 300), destination="club", used=False)

    assert fault.value.said.key == Passing.FOLDER_TROUBLE


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such modes")
@pytest.mark.parametrize(
    ("above", "umask", "made"),
    [
        (0o775, 0o022, 0o775),
        (0o755, 0o022, 0o755),
        (0o755, 0o002, 0o775),
        (0o770, 0o027, 0o770),
        (0o750, 0o027, 0o750),
    ],
)
def test_a_group_that_may_write_above_may_write_below(tmp_path: Path, above: int, umask: int, made: int) -> None:
    """The photographers of a club share its folders; for all else the service's umask counts."""
    tmp_path.chmod(above)
    before = os.umask(umask)
    try:
        ready = ready_folder(tmp_path.parent, tmp_path, Path("islands/deep"), destination="club", used=False)
        assert os.umask(umask) == umask, "the process has its umask again"
    finally:
        os.umask(before)

    assert [stat.S_IMODE(folder.stat().st_mode) for folder in (ready.parent, ready)] == [made, made]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such groups")
def test_the_group_comes_from_the_folder(tmp_path: Path) -> None:
    """A folder that hands its group on gives it to those that are made in it."""
    group = next((number for number in (*os.getgroups(), 4242) if number != os.getegid()), 4242)
    try:
        os.chown(tmp_path, -1, group)
    except PermissionError:
        pytest.skip("this user has no second group")
    tmp_path.chmod(0o2770)

    below = ready_folder(tmp_path.parent, tmp_path, Path("islands"), destination="club", used=False)

    assert below.stat().st_gid == group
