"""Publishing on a real file system."""

from __future__ import annotations

import errno
import os
import shutil
import stat
import subprocess
import sys
from itertools import islice
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanternslide.delivery import (
    delivered_names,
    is_file_with,
    is_temporary_of,
    publish_new,
    publish_over,
    put_text,
    ready_folder,
    remove_temporary,
    renaming,
    temporary_name,
    write_temporary,
)
from lanternslide.delivery.faults import folder_fault
from lanternslide.errors import PassingFaultError

SHA256_OF_ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
"""FIPS 180-4, example of one block."""

STEMS = st.text(st.characters(exclude_characters="/\0", exclude_categories=["Cs"]), min_size=1, max_size=300)


@given(stem=STEMS, density=st.sampled_from([1, 1.5, 2, 4]))
def test_names_fit_every_file_system(stem: str, density: float) -> None:
    """A name and its first numbered ones end in .jpg, are different, and have at most 255 bytes."""
    names = list(islice(delivered_names(stem, density), 12))

    assert len(set(names)) == len(names)
    assert all(name.endswith(".jpg") and len(os.fsencode(name)) <= 255 for name in names)


def test_densities_and_numbers() -> None:
    """The density stands at the end, a number before it."""

    def first(stem: str, density: float) -> list[str]:
        return list(islice(delivered_names(stem, density), 2))

    assert first("grey-seal", 1) == ["grey-seal.jpg", "grey-seal-2.jpg"]
    assert first("grey-seal", 1.5) == ["grey-seal@1.5x.jpg", "grey-seal-2@1.5x.jpg"]
    assert first("me@skerrow", 2) == ["me@skerrow@2x.jpg", "me@skerrow-2@2x.jpg"]


def test_temporary_names_are_hidden_and_known() -> None:
    """A temporary name begins with a dot and is recognised as its own ledger's alone."""
    name = temporary_name("abcd1234-beef", 7)

    assert name.startswith(".")
    assert is_temporary_of("abcd1234", name)
    assert not is_temporary_of("ffff0000", name)
    assert not is_temporary_of("abcd1234", "grey-seal.jpg")


def test_a_new_name_is_given_once(tmp_path: Path) -> None:
    """A temporary file gets its name, and nothing of the temporary one is left."""
    temporary, target = tmp_path / ".x.part", tmp_path / "x.jpg"
    write_temporary(temporary, b"abc")

    assert publish_new(temporary, target)
    assert [path.name for path in tmp_path.iterdir()] == ["x.jpg"]
    assert target.read_bytes() == b"abc"


@pytest.mark.parametrize("kind", ["file", "folder", "link to nowhere"])
def test_a_taken_name_is_never_written_over(tmp_path: Path, kind: str) -> None:
    """Whatever has the name keeps it, and the temporary file stays."""
    temporary, target = tmp_path / ".x.part", tmp_path / "x.jpg"
    write_temporary(temporary, b"abc")
    if kind == "file":
        target.write_bytes(b"theirs")
    elif kind == "folder":
        target.mkdir()
    else:
        target.symlink_to(tmp_path / "nowhere")

    assert not publish_new(temporary, target)
    assert temporary.read_bytes() == b"abc"
    assert not (tmp_path / "nowhere").exists()
    assert kind != "file" or target.read_bytes() == b"theirs"


def test_replacing_leaves_one_or_the_other(tmp_path: Path) -> None:
    """A file that is ours is replaced as a whole; who has it open keeps the old one."""
    temporary, target = tmp_path / ".x.part", tmp_path / "x.jpg"
    target.write_bytes(b"old")
    write_temporary(temporary, b"abc")
    with target.open("rb") as reader:
        publish_over(temporary, target)
        assert reader.read() == b"old"

    assert target.read_bytes() == b"abc"
    assert not temporary.exists()


def test_a_leftover_temporary_is_replaced_and_a_link_not_followed(tmp_path: Path) -> None:
    """What an earlier attempt left gives way; a link under that name leads nowhere."""
    temporary, precious = tmp_path / ".x.part", tmp_path / "precious"
    precious.write_bytes(b"keep")
    temporary.symlink_to(precious)

    write_temporary(temporary, b"abc")

    assert precious.read_bytes() == b"keep"
    assert temporary.read_bytes() == b"abc"
    assert not temporary.is_symlink()


def test_a_folder_that_is_away_may_pass(tmp_path: Path) -> None:
    """Writing into a folder that is not there is a fault that may pass, and leaves nothing."""
    with pytest.raises(PassingFaultError):
        write_temporary(tmp_path / "away" / ".x.part", b"abc")
    remove_temporary(tmp_path / "away" / ".x.part")

    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("number", "key"),
    [
        (errno.ENOSPC, "disk-full"),
        (errno.EROFS, "read-only"),
        (errno.EACCES, "destination-not-permitted"),
        (errno.ENOENT, "folder-trouble"),
        (errno.EIO, "folder-trouble"),
    ],
)
def test_faults_are_told_apart(number: int, key: str) -> None:
    """What the system answers is told in words of its own."""
    assert folder_fault(Path("/out"), OSError(number, os.strerror(number))).said.key == key


FULL_DISK = """
import sys; from pathlib import Path
from lanternslide.delivery import write_temporary
from lanternslide.errors import PassingFaultError
folder = Path(sys.argv[1])
try:
    write_temporary(folder / ".x.part", bytes(1 << 20))
except PassingFaultError as fault:
    print(fault.said.key, [path.name for path in folder.iterdir()])
"""


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0 or shutil.which("unshare") is None,
    reason="mounting a small disk needs root and unshare",
)
@pytest.mark.parametrize(("options", "expected"), [("size=64k", "disk-full []"), ("ro", "read-only []")])
def test_a_real_disk_that_takes_nothing(tmp_path: Path, options: str, expected: str) -> None:
    """A full and a read-only file system, really mounted, are told apart, and nothing is left behind."""
    script = f"mount -t tmpfs -o {options} tmpfs '{tmp_path}' && exec '{sys.executable}' -c '{FULL_DISK}' '{tmp_path}'"
    done = subprocess.run(
        ["unshare", "--mount", "sh", "-c", script],
        capture_output=True, text=True, env={**os.environ, "PYTHONPATH": "service"}, check=False,
    )  # fmt: skip
    if "mount:" in done.stderr or "unshare" in done.stderr:
        pytest.skip(f"this machine does not let us mount: {done.stderr.strip()}")

    assert done.stdout.strip() == expected, done.stderr


def test_a_destination_is_made_once(tmp_path: Path) -> None:
    """A folder is made where the one above is there, with deeper ones; once used, its absence is a fault."""
    folder = tmp_path / "out"

    ready = ready_folder(tmp_path, folder, Path("islands/deep"), destination="club", used=False)

    assert ready == folder / "islands" / "deep"
    assert ready.is_dir()
    shutil.rmtree(folder)
    with pytest.raises(PassingFaultError) as fault:
        ready_folder(tmp_path, folder, Path(), destination="club", used=True)
    assert fault.value.said.key == "destination-away"
    assert not folder.exists()


def test_a_destination_above_which_nothing_is_there_is_not_made(tmp_path: Path) -> None:
    """Where even the folder above is missing, nothing is made: it may be a disk that is not connected."""
    with pytest.raises(PassingFaultError):
        ready_folder(tmp_path / "disk", tmp_path / "disk" / "out", Path(), destination="club", used=False)

    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("data", "size", "same"), [(b"abc", 3, True), (b"abd", 3, False), (b"abc", 4, False), (None, 3, False)]
)
def test_a_file_is_ours_by_its_bytes(tmp_path: Path, data: bytes | None, size: int, same: bool) -> None:  # noqa: FBT001
    """Only the recorded size and digest make a file ours."""
    path = tmp_path / "x.jpg"
    if data is not None:
        path.write_bytes(data)

    assert is_file_with(path, size, SHA256_OF_ABC) is same


def test_a_link_to_our_bytes_is_not_ours(tmp_path: Path) -> None:
    """A link is somebody else's, whatever it leads to."""
    (tmp_path / "x").write_bytes(b"abc")
    (tmp_path / "x.jpg").symlink_to(tmp_path / "x")

    assert not is_file_with(tmp_path / "x.jpg", 3, SHA256_OF_ABC)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such group and mode")
def test_group_and_mode_come_from_the_folder_and_the_umask(tmp_path: Path) -> None:
    """A folder that hands its group on gives it to deliveries; their mode is the service's umask's."""
    group = next((number for number in (*os.getgroups(), 4242) if number != os.getegid()), None)
    try:
        os.chown(tmp_path, -1, group or 4242)
    except PermissionError:
        pytest.skip("this user has no second group")
    tmp_path.chmod(0o2770)
    before = os.umask(0o027)
    try:
        write_temporary(tmp_path / ".x.part", b"picture")
        assert publish_new(tmp_path / ".x.part", tmp_path / "x.jpg")
        below = ready_folder(tmp_path.parent, tmp_path, Path("isles"), destination="club", used=False)
    finally:
        os.umask(before)
    status = (tmp_path / "x.jpg").stat()
    assert status.st_gid == tmp_path.stat().st_gid != os.getegid()
    assert stat.S_IMODE(status.st_mode) == 0o640
    assert below.stat().st_gid == tmp_path.stat().st_gid


def test_a_rename_never_replaces(tmp_path: Path) -> None:
    """Neither with the system's own such rename nor without it."""
    for number, native in enumerate((renaming._renameat2, lambda: None)):
        source, target = tmp_path / f"{number}-source", tmp_path / f"{number}-target"
        source.write_bytes(b"new")
        target.write_bytes(b"old")
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(renaming, "_renameat2", native)
            assert not renaming.rename_new(source, target)
            assert (source.read_bytes(), target.read_bytes()) == (b"new", b"old")
            target.unlink()
            assert renaming.rename_new(source, target)
        assert target.read_bytes() == b"new"
        assert not source.exists()


def test_a_text_is_there_whole_or_not_at_all(tmp_path: Path) -> None:
    """It is written once, left alone while it stays the same, and deleted with its temporary file."""
    note = tmp_path / "notes" / "HELD.txt"
    put_text(note, "held")
    first = note.stat()
    put_text(note, "held")
    assert note.stat().st_ino == first.st_ino
    note.with_name(".HELD.txt.part").touch()
    put_text(note, None)
    assert list(note.parent.iterdir()) == []
