"""Publishing on a real file system, so that nobody ever sees half a file."""

from __future__ import annotations

import errno
import os
import shutil
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from lanternslide.errors import PassingFaultError
from lanternslide.ledger import Ledger
from lanternslide.storage import (
    is_file_with,
    move_new,
    publish_new,
    publish_over,
    put_text,
    remove_delivery,
    remove_temporary,
    set_mode,
    write_temporary,
)
from lanternslide.words import Passing

SHA256_OF_ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
"""FIPS 180-4, example of one block."""


def refuse(monkeypatch: pytest.MonkeyPatch, number: int, *, folders: bool) -> None:
    """Have the system refuse to sync folders, or files, with this error."""
    fsync = os.fsync

    def refused(descriptor: int) -> None:
        if stat.S_ISDIR(os.fstat(descriptor).st_mode) == folders:
            raise OSError(number, os.strerror(number))
        fsync(descriptor)

    monkeypatch.setattr(os, "fsync", refused)


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


FULL_DISK = """
import sys; from pathlib import Path
from lanternslide.storage import write_temporary
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


# What is on disk


@pytest.mark.skipif(sys.platform == "win32", reason="Windows syncs no folder")
@pytest.mark.parametrize(
    ("act", "synced"),
    [
        (lambda root: write_temporary(root / "here" / "new", b"abc"), ["here/new"]),
        (lambda root: publish_new(root / "here" / "x", root / "here" / "new"), ["here"]),
        (lambda root: publish_over(root / "here" / "x", root / "here" / "y"), ["here"]),
        (lambda root: remove_delivery(root / "here" / "x"), ["here"]),
        (lambda root: move_new(root / "here" / "x", root / "there" / "x"), ["here", "there"]),
        (lambda root: put_text(root / "here" / "x", "text"), ["here", "here/.x.part"]),
    ],
)
def test_what_is_done_is_on_disk_once_it_returns(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, act: Callable[[Path], object], synced: list[str]
) -> None:
    """Bytes before they get a name, and every folder in which a name has changed."""
    for folder in ("here", "there"):
        (tmp_path / folder).mkdir()
    for name in ("x", "y"):
        (tmp_path / "here" / name).write_bytes(name.encode())
    fsync, seen = os.fsync, dict[str, list[str]]()

    def watched(descriptor: int) -> None:
        number = os.fstat(descriptor).st_ino
        (found, *_) = (path for path in (tmp_path, *tmp_path.rglob("*")) if path.stat().st_ino == number)
        seen[found.relative_to(tmp_path).as_posix()] = names_in(found)
        fsync(descriptor)

    monkeypatch.setattr(os, "fsync", watched)
    act(tmp_path)

    assert sorted(seen) == synced
    folders = [name for name in synced if (tmp_path / name).is_dir()]
    assert all(seen[name] == names_in(tmp_path / name) for name in folders), "a name has changed after it was synced"


def names_in(folder: Path) -> list[str]:
    """Return what lies in a folder, with the file each name stands for; nothing of a file."""
    return sorted(f"{path.name} {path.stat().st_ino}" for path in folder.iterdir()) if folder.is_dir() else []


# Modes


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such group and mode")
def test_group_and_mode_come_from_the_folder_and_the_umask(tmp_path: Path) -> None:
    """A folder that hands its group on gives it to deliveries; their mode is the umask's."""
    group = next((number for number in (*os.getgroups(), 4242) if number != os.getegid()), 4242)
    try:
        os.chown(tmp_path, -1, group)
    except PermissionError:
        pytest.skip("this user has no second group")
    tmp_path.chmod(0o2770)
    before = os.umask(0o027)
    try:
        write_temporary(tmp_path / ".x.part", b"picture")
        assert publish_new(tmp_path / ".x.part", tmp_path / "x.jpg")
    finally:
        os.umask(before)
    status = (tmp_path / "x.jpg").stat()
    assert status.st_gid == group
    assert stat.S_IMODE(status.st_mode) == 0o640


# File systems without hard links


def without_links(monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    """Have the system refuse hard links with this error."""

    def link(_source: Path, _target: Path, **_named: Any) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "link", link)


@pytest.mark.parametrize("number", [errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK, errno.EXDEV])
def test_without_links_a_new_name_is_given_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """As on memory cards; a name that is taken is left to its owner there too."""
    without_links(monkeypatch, number)
    temporary, target = tmp_path / ".x.part", tmp_path / "x.jpg"
    write_temporary(temporary, b"abc")
    target.write_bytes(b"theirs")
    assert not publish_new(temporary, target)
    assert (temporary.read_bytes(), target.read_bytes()) == (b"abc", b"theirs")

    target.unlink()
    assert publish_new(temporary, target)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"x.jpg": b"abc"}


@pytest.mark.parametrize(("number", "key"), [(errno.ENOSPC, Passing.DISK_FULL), (errno.EIO, Passing.FOLDER_TROUBLE)])
def test_another_refusal_is_a_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, key: Passing) -> None:
    """A full disk and one that fails have nothing to do with links: nothing is published."""
    without_links(monkeypatch, number)
    write_temporary(tmp_path / ".x.part", b"abc")

    with pytest.raises(PassingFaultError) as fault:
        publish_new(tmp_path / ".x.part", tmp_path / "x.jpg")

    assert fault.value.said.key == key
    assert not (tmp_path / "x.jpg").exists()


# Moving, deleting, texts


def test_an_original_is_moved_only_to_a_new_name(tmp_path: Path) -> None:
    """Never onto another file; its bytes and its time go along."""
    (tmp_path / "drop").mkdir()
    (tmp_path / "filed").mkdir()
    original, target = tmp_path / "drop" / "seal.tif", tmp_path / "filed" / "seal.tif"
    original.write_bytes(b"abc")
    os.utime(original, ns=(0, 7 * 10**9))
    target.write_bytes(b"theirs")
    assert not move_new(original, target)
    assert (original.read_bytes(), target.read_bytes()) == (b"abc", b"theirs")

    target.unlink()
    assert move_new(original, target)
    assert (target.read_bytes(), target.stat().st_mtime_ns) == (b"abc", 7 * 10**9)
    assert not original.exists()


@pytest.mark.parametrize(
    "act",
    [
        lambda folder: publish_new(folder.parent / "abc", folder / "x"),
        lambda folder: publish_over(folder.parent / "abc", folder / "x"),
        lambda folder: move_new(folder.parent / "abc", folder / "x"),
        lambda folder: write_temporary(folder / "x", b"abc"),
        lambda folder: remove_delivery(folder / "x"),
        lambda folder: put_text(folder / "x" / "x.txt", "text"),
    ],
)
def test_a_folder_that_is_away_is_a_fault(tmp_path: Path, act: Callable[[Path], object]) -> None:
    """It may come back; nothing is made in its place, and nothing is lost."""
    (tmp_path / "abc").write_bytes(b"abc")

    with pytest.raises(PassingFaultError) as fault:
        act(tmp_path / "away")

    assert fault.value.said.key == Passing.FOLDER_TROUBLE
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"abc": b"abc"}


def test_a_delivery_is_deleted_once(tmp_path: Path) -> None:
    """One that is gone already is no fault."""
    (tmp_path / "x.jpg").touch()
    remove_delivery(tmp_path / "x.jpg")
    remove_delivery(tmp_path / "x.jpg")

    assert list(tmp_path.iterdir()) == []


def test_a_text_that_cannot_be_written_leaves_the_former_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whole, and with nothing beside it."""
    note = tmp_path / "HELD.txt"
    put_text(note, "one")
    refuse(monkeypatch, errno.ENOSPC, folders=False)

    with pytest.raises(PassingFaultError) as fault:
        put_text(note, "two")

    assert fault.value.said.key == Passing.DISK_FULL
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {"HELD.txt": "one"}


def test_a_text_replaces_another(tmp_path: Path) -> None:
    """It is UTF-8, whatever the machine speaks."""
    put_text(tmp_path / "HELD.txt", "one")
    put_text(tmp_path / "HELD.txt", "Größe")

    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"HELD.txt": "Größe".encode()}


# File systems that cannot sync a folder


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


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such permissions")
@pytest.mark.parametrize("umask", [0, 0o077])
def test_permissions_are_those_that_are_asked_for(tmp_path: Path, umask: int) -> None:
    """Whatever the umask; what is not there any more is no fault."""
    before = os.umask(umask)
    try:
        write_temporary(tmp_path / "seal.part", b"x")
    finally:
        os.umask(before)
    set_mode(tmp_path / "seal.part", 0o640)
    set_mode(tmp_path / "gone.part", 0o640)

    assert stat.S_IMODE((tmp_path / "seal.part").stat().st_mode) == 0o640
