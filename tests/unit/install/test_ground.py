"""Whether what is to be installed would work."""

from __future__ import annotations

import grp
import os
import pwd
import shlex
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

import lanternslide
from lanternslide.errors import InstallError
from lanternslide.install.access import Access
from lanternslide.install.ground import (
    check_as,
    check_config,
    check_folders,
    check_owner,
    check_reach,
    groups_of,
    program_folders,
)
from lanternslide.words import Install

NOBODYS = 54_321
"""A user's number without a user."""

root = pytest.mark.skipif(os.geteuid() != 0, reason="only root gives a folder away")


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """Return a folder that everybody can get at, as pytest's own are not."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(os.path.realpath(name))
        folder.chmod(0o755)
        if any(parent.stat().st_mode & 0o001 == 0 for parent in folder.parents):
            pytest.skip("the folder for temporary files is closed to others")
        yield folder


def key_of(error: pytest.ExceptionInfo[InstallError]) -> str:
    """Return the key of what was said."""
    return error.value.said.key


# Within reach


def test_the_program_lies_in_these_folders() -> None:
    """The environment, its Python, and the package: each is there, and what runs now lies in them."""
    folders = program_folders()

    assert all(folder.is_dir() for folder in folders)
    assert list(folders) == sorted(set(folders))
    for part in (
        Path(os.path.realpath(sys.executable)),
        Path(lanternslide.__file__),
        Path(sys.prefix),
        Path(os.__file__),
    ):
        assert any(part.is_relative_to(folder) for folder in folders)


def test_what_everybody_can_read_is_within_reach(open_folder: Path) -> None:
    """A folder that is on the way need only be passed; a file need only be read."""
    (open_folder / "passed" / "read").mkdir(parents=True)
    (open_folder / "passed").chmod(0o711)
    (open_folder / "file").touch(mode=0o644)

    check_reach([open_folder, open_folder / "passed" / "read", open_folder / "file"])


@pytest.mark.parametrize(
    ("way", "end", "closed"),
    [
        (0o700, 0o755, "way"),
        (0o700, 0o700, "way"),
        (0o710, 0o755, "way"),
        (0o711, 0o750, "way/end"),
        (0o755, 0o754, "way/end"),
        (0o755, 0o751, "way/end"),
    ],
)
def test_the_folder_that_is_closed_is_named(open_folder: Path, way: int, end: int, closed: str) -> None:
    """The outermost that others may not pass, or the one itself where they may not list or enter it."""
    path = open_folder / "way" / "end"
    path.mkdir(parents=True)
    path.chmod(end)
    path.parent.chmod(way)

    with pytest.raises(InstallError) as caught:
        check_reach([open_folder, path])

    assert key_of(caught) == Install.UNREACHABLE.value
    assert f"the folder {open_folder / closed} is closed" in str(caught.value)


def test_a_file_that_others_may_not_read(open_folder: Path) -> None:
    """It is named itself."""
    (open_folder / "python").touch()
    (open_folder / "python").chmod(0o751)

    with pytest.raises(InstallError) as caught:
        check_reach([open_folder / "python"])

    assert f"the folder {open_folder / 'python'} is closed" in str(caught.value)


def test_the_configs_folder_must_be_open(open_folder: Path) -> None:
    """The words say where a config may lie."""
    config = open_folder / "own" / "lanternslide.toml"
    config.parent.mkdir(mode=0o700)
    with pytest.raises(InstallError) as caught:
        check_config(config)
    assert key_of(caught) == Install.CONFIG_UNREACHABLE.value

    config.parent.chmod(0o755)
    check_config(config)


# Whose it is


@pytest.mark.parametrize("owner", [os.geteuid(), pytest.param(NOBODYS, marks=root)])
def test_a_state_folder_of_the_account_or_of_nobody_that_is_known(tmp_path: Path, owner: int) -> None:
    """Or one that is not there yet."""
    os.chown(tmp_path, owner, -1)

    check_owner(tmp_path, pwd.getpwuid(os.geteuid()).pw_name)
    check_owner(tmp_path / "not yet", "lanternslide")


@root
def test_a_state_folder_of_root_will_do(tmp_path: Path) -> None:
    """It was made by hand for the service."""
    check_owner(tmp_path, "lanternslide")


@root
def test_a_state_folder_of_somebody_else_is_refused(tmp_path: Path) -> None:
    """Its owner could not use it any more."""
    os.chown(tmp_path, pwd.getpwnam("nobody").pw_uid, -1)

    check_owner(tmp_path, "nobody")
    with pytest.raises(InstallError, match="nobody") as caught:
        check_owner(tmp_path, "lanternslide")
    assert key_of(caught) == Install.STATE_OF_ANOTHER.value


def test_a_photographers_group_is_the_users() -> None:
    """Of the user who is called so."""
    nobody = pwd.getpwnam("nobody")

    assert groups_of(["nobody"]) == {"nobody": grp.getgrgid(nobody.pw_gid).gr_name}
    assert groups_of([]) == {}


@pytest.mark.parametrize(
    ("name", "key"), [("ida-of-no-account", Install.NO_ACCOUNT), (pwd.getpwuid(0).pw_name, Install.AS_ROOT)]
)
def test_a_photographer_needs_a_user_who_may_not_do_everything(name: str, key: Install) -> None:
    """The name is in the words."""
    with pytest.raises(InstallError, match=name) as caught:
        groups_of(["nobody", name])

    assert key_of(caught) == key.value


# Folders


def test_folders_that_are_missing_come_with_the_command_that_makes_them(tmp_path: Path) -> None:
    """All of them, for each owner, with names that a shell takes as they are."""
    (tmp_path / "there").mkdir()
    (tmp_path / "file").touch()
    owned = {"ida": [tmp_path / "there", tmp_path / "my drop"], "juno": [tmp_path / "file"]}

    with pytest.raises(InstallError) as caught:
        check_folders(owned)

    assert key_of(caught) == Install.FOLDERS_MISSING.value
    said = str(caught.value)
    assert f"install -d -m 2770 -o ida {shlex.quote(str(tmp_path / 'my drop'))}; install" in said
    assert f"install -d -m 2770 -o juno {tmp_path / 'file'}." in said
    assert str(tmp_path / "there") not in said
    check_folders({"ida": [tmp_path / "there"], "juno": []})


# As the service


@pytest.mark.parametrize("status", [0, 2])
def test_the_config_is_checked_as_the_service_sees_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, status: int
) -> None:
    """As its user, behind its walls; a percent sign that a unit doubles stands there once. What it says comes back."""
    program = tmp_path / "systemd-run"
    program.write_text(f"#!/bin/sh\nprintf '%s\\n' \"$@\"\nprintf 'caf\\351' >&2\nexit {status}\n")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    access = Access(writable=(Path("/srv/100%"),), readable=(), home="tmpfs")

    done = check_as("lanternslide", access, Path("/etc/x.toml"), "--photographer", "ida")

    words = done.stdout.splitlines()
    assert (done.returncode, done.stderr) == (status, "caf\ufffd")
    assert "--uid=lanternslide" in words
    assert "--property=ProtectHome=tmpfs" in words
    assert "--property=ReadWritePaths=-/srv/100%" in words
    assert words[-7:] == ["-m", "lanternslide", "--config", "/etc/x.toml", "check", "--photographer", "ida"]
    assert words[-8] == sys.executable
