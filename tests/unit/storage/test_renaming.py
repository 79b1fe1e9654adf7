"""A rename that never replaces a file."""

from __future__ import annotations

import errno
import sys
from pathlib import Path

import pytest

from lanternslide.storage.renaming import rename_new


@pytest.fixture(params=["the system's own", "in two steps"])
def platform(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Have the rename be one step, where the system has such a thing, or two."""
    if request.param == "in two steps":
        monkeypatch.setattr(sys, "platform", "another")
    return str(request.param)


@pytest.mark.usefixtures("platform")
@pytest.mark.parametrize("kind", ["file", "folder", "empty folder", "link to nowhere"])
def test_a_name_that_is_taken_is_left_to_its_owner(tmp_path: Path, kind: str) -> None:
    """Whatever has it; the file keeps its own name."""
    source, target = tmp_path / "source", tmp_path / "target"
    source.write_bytes(b"ours")
    match kind:
        case "file":
            target.write_bytes(b"theirs")
        case "link to nowhere":
            target.symlink_to("nowhere")
        case _:
            target.mkdir()
            if kind == "folder":
                (target / "x").touch()

    assert rename_new(source, target) is False

    assert source.read_bytes() == b"ours"
    assert kind != "file" or target.read_bytes() == b"theirs"
    assert target.is_symlink() is (kind == "link to nowhere")
    assert target.is_dir() is ("folder" in kind)


@pytest.mark.usefixtures("platform")
def test_a_free_name_is_taken(tmp_path: Path) -> None:
    """As one step: nothing is left under the former name; names that are no text are taken, too."""
    source, target = tmp_path / "source\udce9", tmp_path / "é\udce9 target"
    source.write_bytes(b"ours")

    assert rename_new(source, target) is True

    assert target.read_bytes() == b"ours"
    assert not source.exists()


@pytest.mark.usefixtures("platform")
@pytest.mark.parametrize(("source", "target"), [("gone", "target"), ("source", "gone/target")])
def test_what_the_system_refuses_is_an_error(tmp_path: Path, source: str, target: str) -> None:
    """A name that was not taken is never told of as one that was."""
    (tmp_path / "source").write_bytes(b"ours")

    with pytest.raises(OSError, match="No such file or directory") as refused:
        rename_new(tmp_path / source, tmp_path / target)

    assert refused.value.errno == errno.ENOENT
    assert (tmp_path / "source").read_bytes() == b"ours"


def test_a_name_that_is_taken_in_this_moment_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Between the look and the rename; the system that tells so is Windows."""

    def taken(_source: Path, _target: Path) -> None:
        raise FileExistsError

    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(Path, "rename", taken)

    assert rename_new(tmp_path / "source", tmp_path / "target") is False
