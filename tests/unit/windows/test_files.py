"""What files are like on Windows, at the places where the service tells systems apart.

No Windows is asked: what it answers is put in by hand, as its documentation says it.
"""

from __future__ import annotations

import errno
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from lanternslide.cli.output.unseen import leave_error
from lanternslide.config.beginning.first import FirstAnswers, FirstDestination
from lanternslide.config.limits import MOST_WORKERS_ON_WINDOWS, Limits
from lanternslide.config.settings import Service
from lanternslide.delivery import folder_called
from lanternslide.delivery.naming import cut
from lanternslide.delivery.notices import Stamps
from lanternslide.delivery.target_names import day_of_file
from lanternslide.errors import PassingFaultError
from lanternslide.intake import count_others, held_for_writing, look_at, scan
from lanternslide.ledger import StateLock
from lanternslide.ledger.state_folder import lock
from lanternslide.preview.first_folders import begin
from lanternslide.records import DroppedFile, Fingerprint, shown_path
from lanternslide.records.windows import in_use
from lanternslide.report.obstacles import Obstacles
from lanternslide.requests.request_folder import Reply, Request, RequestFolder
from lanternslide.storage import move_new, publish_new, publish_over, put_text, remove_delivery
from lanternslide.storage.faults import folder_fault
from lanternslide.storage.mounts import is_network_path, mounts
from lanternslide.words import Passing


@pytest.fixture
def windows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have the service believe that it runs on Windows, once there is a folder for the test."""
    assert tmp_path.is_dir()
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(time, "sleep", lambda _seconds: None)


def refusal(code: int) -> PermissionError:
    """Return what Python raises on Windows for a system error that it takes for a lack of permission."""
    error = PermissionError(errno.EACCES, "The process cannot access the file")
    vars(error)["winerror"] = code
    return error


def refusing(times: int, code: int, act: Callable[..., Any]) -> Callable[..., Any]:
    """Return *act*, which another program hinders for so many times."""
    left = iter(range(times))

    def hindered(*given: Any, **named: Any) -> Any:
        if next(left, None) is not None:
            raise refusal(code)
        return act(*given, **named)

    return hindered


@pytest.mark.usefixtures("windows")
def test_a_scan_and_a_look_see_the_same(tmp_path: Path) -> None:
    """A file looks alike in a listing, by its name and when it is open: a listing does not tell its number."""
    (tmp_path / "a.jpg").write_bytes(b"abc")
    with (tmp_path / "a.jpg").open("rb") as stream:
        opened = Fingerprint.of(os.fstat(stream.fileno()))

    (scanned,) = scan("ida", tmp_path)
    (looked,) = look_at("ida", tmp_path, Path("a.jpg"))
    assert scanned.fingerprint == looked.fingerprint == opened
    assert opened.inode == 0


def test_a_junction_below_the_drop_folder_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What counts as a folder and leads elsewhere is not gone into, by a scan, a hint or a count."""
    (tmp_path / "away").mkdir()
    (tmp_path / "away" / "private.jpg").touch()
    (tmp_path / "away" / "private.xmp").touch()
    number = (tmp_path / "away").stat().st_ino
    # The package has a function of the module's name.
    monkeypatch.setattr(sys.modules["lanternslide.intake.scan"], "is_link", lambda status: status.st_ino == number)

    assert list(scan("ida", tmp_path)) == []
    assert list(look_at("ida", tmp_path, Path("away/private.jpg"))) == []
    assert count_others(tmp_path) == 0


@pytest.mark.parametrize(
    ("path", "network"),
    [
        ("\\\\nas\\photos\\drop", True),
        ("//nas/photos/drop", True),
        ("\\\\?\\UNC\\nas\\photos\\drop", True),
        ("\\\\?\\C:\\photos", False),
        ("C:\\photos", False),
        ("photos", False),
    ],
)
def test_network_paths(path: str, *, network: bool) -> None:
    """A path on another machine is known, written the short way or the long one."""
    assert is_network_path(path) is network


@pytest.mark.usefixtures("windows")
def test_a_drive_that_is_a_share(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows says among a drive's options that it is a share, whatever its file system."""
    parts = [
        SimpleNamespace(mountpoint="C:\\", fstype="NTFS", opts="rw,fixed"),
        SimpleNamespace(mountpoint="P:\\", fstype="NTFS", opts="rw,remote"),
    ]
    monkeypatch.setattr("psutil.disk_partitions", lambda **_: parts)

    assert [mount.kind for mount in mounts()] == ["NTFS", "remote"]


@pytest.mark.parametrize(("code", "held"), [(32, True), (33, True), (5, False)])
@pytest.mark.usefixtures("windows")
def test_a_file_that_its_writer_shares_with_nobody(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, *, held: bool
) -> None:
    """Such a file is still being written; one that may not be read at all is another matter."""
    monkeypatch.setattr(Path, "open", refusing(1, code, Path.open))

    assert held_for_writing(tmp_path / "a.jpg") is held


@pytest.mark.usefixtures("windows")
def test_what_is_open_elsewhere_is_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A scanner that holds a file for a moment is no fault: publishing, replacing, moving, deleting go on after it."""
    for name in "abcde":
        (tmp_path / name).write_bytes(name.encode())
    monkeypatch.setattr(Path, "rename", refusing(2, 32, Path.rename))
    assert publish_new(tmp_path / "a", tmp_path / "new")
    monkeypatch.setattr(Path, "replace", refusing(3, 5, Path.replace))
    publish_over(tmp_path / "b", tmp_path / "c")
    monkeypatch.setattr(Path, "rename", refusing(2, 33, Path.rename))
    assert move_new(tmp_path / "d", tmp_path / "moved")
    monkeypatch.setattr(Path, "unlink", refusing(2, 32, Path.unlink))
    remove_delivery(tmp_path / "e")

    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"new": b"a", "c": b"b", "moved": b"d"}


@pytest.mark.parametrize("act", [publish_new, publish_over, move_new])
@pytest.mark.usefixtures("windows")
def test_what_stays_open_elsewhere_may_pass(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, act: Callable[[Path, Path], Any]
) -> None:
    """A program that keeps a file open is a fault that may pass, said as what it is; nothing is lost."""
    (tmp_path / "a").write_bytes(b"a")
    for name in ("rename", "replace"):
        monkeypatch.setattr(Path, name, refusing(1000, 32, getattr(Path, name)))
    with pytest.raises(PassingFaultError) as caught:
        act(tmp_path / "a", tmp_path / "b")

    assert caught.value.said.key == Passing.FILE_IN_USE
    assert (tmp_path / "a").read_bytes() == b"a"


@pytest.mark.usefixtures("windows")
def test_a_note_that_is_open_elsewhere_may_pass(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """HELD.txt, manifests and pages stay as they were while a program keeps them open."""
    note = tmp_path / "HELD.txt"
    put_text(note, "one")
    monkeypatch.setattr(Path, "replace", refusing(1000, 32, Path.replace))
    with pytest.raises(PassingFaultError):
        put_text(note, "two")

    assert note.read_text() == "one"


@pytest.mark.usefixtures("windows")
def test_publishing_never_writes_over_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A name that is taken, also in the very moment, is left to its owner; no link is asked for."""
    (tmp_path / "a").write_bytes(b"ours")
    (tmp_path / "b").write_bytes(b"theirs")

    def rename(_source: Path, _target: Path) -> None:
        raise FileExistsError

    assert not publish_new(tmp_path / "a", tmp_path / "b")
    monkeypatch.setattr(Path, "rename", rename)
    monkeypatch.setattr(os, "link", None)
    assert not publish_new(tmp_path / "a", tmp_path / "free")
    assert (tmp_path / "b").read_bytes() == b"theirs"
    assert (tmp_path / "a").read_bytes() == b"ours"


@pytest.mark.parametrize(("code", "key"), [(32, Passing.FILE_IN_USE), (5, Passing.REFUSED_OR_IN_USE)])
def test_a_file_in_use_is_no_lack_of_rights(code: int, key: Passing) -> None:
    """Its owner is told to close the file, not to change rights; where Windows tells neither, both are named."""
    assert in_use(refusal(code)) is (code == 32)
    assert folder_fault(Path("out"), refusal(code)).said.key == key


def test_a_request_that_a_scanner_looks_into_is_read_later(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is neither lost nor taken for one that cannot be understood; an answer likewise."""
    requests, request = RequestFolder(tmp_path), Request(command="retry")
    name = requests.leave(request)
    with monkeypatch.context() as patched:
        patched.setattr(os, "open", refusing(1, 32, os.open))
        assert list(requests.take()) == []
    assert list(requests.take()) == [(name, request)]

    requests.reply(name, Reply(lines=("Done.",), status=0))
    monkeypatch.setattr(Path, "read_text", refusing(1, 32, Path.read_text))
    assert requests.take_reply(name) is None
    monkeypatch.setattr(Path, "unlink", refusing(1, 32, Path.unlink))
    assert requests.take_reply(name) == Reply(lines=("Done.",), status=0)


def test_names_with_halves_of_characters(monkeypatch: pytest.MonkeyPatch) -> None:
    """Names that are no text, as Windows may have them, can be shown and cut; no half is taken apart."""
    monkeypatch.setattr(os, "fsencode", lambda name: str(name).encode("utf-8", "surrogatepass"))

    assert shown_path(Path("a\ud800b\udc81.jpg")) == "a\\ud800b\\x81.jpg"
    assert cut("\ud800" * 10, 20) == "\ud800" * 6


def test_folders_do_not_end_with_what_windows_takes_away() -> None:
    """A folder's long name that is cut ends with no dot and no blank."""
    assert folder_called(Path("x" * 199 + " y"), slug=False) == Path("x" * 199)
    assert folder_called(Path("x" * 199 + ".y/aux"), slug=False) == Path("x" * 199, "_aux")


def test_days_before_1970() -> None:
    """A file of an old clock has its day."""
    old = Fingerprint(size=1, mtime_ns=-86_400 * 10**9 + 1, inode=0)
    file = DroppedFile(photographer="ida", drop=Path(), relative=Path("a.jpg"), fingerprint=old)

    assert day_of_file(file) == "1969-12-31"


@pytest.mark.usefixtures("windows")
def test_windows_waits_for_so_many_workers_at_once() -> None:
    """More workers than one wait can hear are never started."""
    many = Service(workers=200, memory="1000 GiB")

    assert Limits.of(many).workers == MOST_WORKERS_ON_WINDOWS <= 61


def _hold(folder: Path) -> None:
    with StateLock(folder, "lanternslide watch"):
        pass


def _stamp(folder: Path) -> None:
    stamps = Stamps(folder, Obstacles(lambda _event: None))
    stamps.deliver("club")
    stamps.end(())


ANSWERS = FirstAnswers(
    creator="Ida Marrow", contact="", drop="drop", destinations=(FirstDestination(name="portfolio", long_edge=1050),)
)

PRIVATE: list[Callable[[Path], object]] = [
    _hold,
    _stamp,
    lambda folder: leave_error("wrong", folder),
    lambda folder: RequestFolder(folder.parent).prepare(),
    lambda folder: RequestFolder(folder.parent).leave(Request(command="retry")),
    lambda folder: begin(folder.parent / "lanternslide.toml", ANSWERS),
]


@pytest.mark.parametrize("make", PRIVATE)
def test_what_is_private_elsewhere_is_not_closed_to_the_task(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, make: Callable[[Path], object]
) -> None:
    """On Windows mkdir is never asked for 0o700, which shuts out whoever runs without an administrator's rights."""
    real, modes = Path.mkdir, set[int]()

    def mkdir(folder: Path, mode: int = 0o777, *, parents: bool = False, exist_ok: bool = False) -> None:
        modes.add(mode)
        real(folder, mode, parents=parents, exist_ok=exist_ok)

    monkeypatch.setattr(sys, "stderr", None)  # an error is left in a file only then
    monkeypatch.setattr(Path, "mkdir", mkdir)
    make(tmp_path / "here" / "state")
    assert 0o700 in modes
    modes.clear()
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(lock, "_try_lock", lambda _stream: True)  # what locks there is not to be had here
    make(tmp_path / "there" / "state")

    assert modes == {0o777}
