"""Installing with systemd: what is written, what is run, and taking all of it back."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from lanternslide.errors import InstallError
from lanternslide.install import systemd
from lanternslide.install.systemd import (
    DROP_IN,
    Installation,
    carry_out,
    installed,
    is_running,
    systemd_version,
    take_away,
)
from lanternslide.install.units import MARK
from lanternslide.words import Install

OURS = f"# {MARK}\n[Unit]\n"

PROGRAM = """#!/bin/sh
echo "$@" >> "{log}"
{does}
"""


class System:
    """A program in place of systemctl, which notes what it is asked; `does` is what it does then, in sh."""

    def __init__(self, folder: Path, does: str = "") -> None:
        self._log = folder / "asked"
        self._path = folder / "systemctl"
        self._path.write_text(PROGRAM.format(log=self._log, does=does))
        self._path.chmod(0o755)
        self.command = (str(self._path), "--user")

    def asked(self) -> list[str]:
        """Return what it was asked, in order."""
        return self._log.read_text().splitlines() if self._log.exists() else []


@pytest.fixture
def units(tmp_path: Path) -> Path:
    """Return the folder of units."""
    folder = tmp_path / "units"
    folder.mkdir()
    return folder


def key_of(error: pytest.ExceptionInfo[InstallError]) -> str:
    """Return the key of what was said."""
    return error.value.said.key


# Writing


def plan_in(folder: Path, text: str = f"# {MARK}\n[Unit]\n") -> Installation:
    """Return an installation of one file."""
    return Installation(files={folder / "lanternslide.service": text}, commands=(("true",),), units=("lanternslide",))


def test_files_are_written_over_only_if_they_are_ours(tmp_path: Path) -> None:
    """What an earlier installation wrote is replaced; what somebody else did stays, and is named."""
    carry_out(plan_in(tmp_path))
    carry_out(plan_in(tmp_path, f"# {MARK}\n[Service]\n"))
    assert "[Service]" in (tmp_path / "lanternslide.service").read_text()
    (tmp_path / "lanternslide.service").write_text("[Unit]\n# mine\n")

    with pytest.raises(InstallError) as caught:
        carry_out(plan_in(tmp_path))

    assert key_of(caught) == Install.IN_THE_WAY.value
    assert (tmp_path / "lanternslide.service").read_text() == "[Unit]\n# mine\n"
    assert [path.name for path in tmp_path.iterdir()] == ["lanternslide.service"]


def test_only_what_was_installed_is_found(tmp_path: Path) -> None:
    """What an owner has put beside it, by `systemctl edit` for instance, is not taken away."""
    carry_out(plan_in(tmp_path))
    own = tmp_path / "lanternslide@ida.service.d"
    own.mkdir()
    (own / "folders.conf").write_text(f"# {MARK}\n")
    (own / "override.conf").write_text("[Service]\nNice=5\n")
    (tmp_path / "lanternslide@.service").write_text("[Unit]\n")

    found = installed(tmp_path)

    assert found.files == (tmp_path / "lanternslide.service", own / "folders.conf")
    assert not found.has_account


def test_what_the_system_refuses_is_said(tmp_path: Path) -> None:
    """A command that fails is named with what it said."""
    plan = Installation(files={}, commands=(("ls", str(tmp_path / "none")),), units=())

    with pytest.raises(InstallError, match="none"):
        carry_out(plan)


def test_nothing_is_written_where_one_file_is_somebody_elses(units: Path) -> None:
    """All are looked at before the first is written, and nothing is run."""
    (units / "second").write_text("theirs\n")
    plan = Installation(
        files={units / "first": OURS, units / "second": OURS}, commands=(("touch", str(units / "ran")),), units=()
    )

    with pytest.raises(InstallError):
        carry_out(plan)

    assert [path.name for path in units.iterdir()] == ["second"]


def test_files_are_whole_and_for_everybody_to_read(units: Path) -> None:
    """In folders that are made for them; what a writing that was cut off has left is in nobody's way."""
    target = units / "lanternslide@ida.service.d" / DROP_IN
    target.parent.mkdir()
    target.with_name(f".{DROP_IN}.part").write_text("half")

    carry_out(Installation(files={target: OURS, units / "deep" / "x": OURS}, commands=(), units=()))

    assert target.read_text() == OURS
    assert stat.S_IMODE(target.stat().st_mode) == 0o644
    assert [path.name for path in target.parent.iterdir()] == [DROP_IN]
    assert (units / "deep" / "x").read_text() == OURS


def test_a_file_that_cannot_be_written_is_said(units: Path) -> None:
    """With the reason."""
    (units / "file").touch()

    with pytest.raises(InstallError, match="File exists") as caught:
        carry_out(Installation(files={units / "file" / "x": OURS}, commands=(), units=()))

    assert key_of(caught) == Install.NOT_WRITTEN.value


@pytest.mark.parametrize(
    ("command", "says"),
    [
        (("no-program-of-this-name", "x"), "“no-program-of-this-name x”: No such file or directory"),
        (("sh", "-c", "echo so  it >&2; echo goes >&2; exit 4"), ": so it goes. "),
        (("sh", "-c", "exit 4"), ": exit status 4. "),
    ],
)
def test_what_the_system_refuses_is_told_in_its_words(command: tuple[str, ...], says: str) -> None:
    """Or by its exit status, where it says nothing."""
    with pytest.raises(InstallError) as caught:
        carry_out(Installation(files={}, commands=(command,), units=()))

    assert key_of(caught) == Install.REFUSED.value
    assert says in str(caught.value)


# Finding


def test_beside_units_what_makes_the_account_is_found(units: Path) -> None:
    """By its mark, at the paths that are named; that tells that there is an account."""
    account, folders = units / "sysusers.d" / "lanternslide.conf", units / "tmpfiles.d" / "lanternslide.conf"
    for path, text in ((account, OURS), (folders, "theirs\n")):
        path.parent.mkdir()
        path.write_text(text)

    found = installed(units, (account, folders, units / "gone"))

    assert (found.files, found.has_account) == ((account,), True)


# Taking away


def test_a_service_is_stopped_before_its_files_go(units: Path, tmp_path: Path) -> None:
    """Then systemd is told; a folder of drop-ins goes once it is empty."""
    folder = units / "lanternslide@ida.service.d"
    folder.mkdir()
    for path in (units / "lanternslide.service", folder / DROP_IN):
        path.write_text(OURS)
    system = System(tmp_path, f'[ "$2" != disable ] || test -e {units}/lanternslide.service')

    take_away(installed(units), system.command)

    assert list(units.iterdir()) == []
    assert system.asked() == [
        "--user disable --now lanternslide.service", "--user reset-failed lanternslide.service", "--user daemon-reload",
    ]  # fmt: skip


def test_what_an_owner_has_put_beside_it_stays(units: Path, tmp_path: Path) -> None:
    """And so does the folder around it."""
    folder = units / "lanternslide@ida.service.d"
    folder.mkdir()
    (folder / DROP_IN).write_text(OURS)
    (folder / "override.conf").write_text("[Service]\n")

    take_away(installed(units), System(tmp_path).command)

    assert [path.name for path in folder.iterdir()] == ["override.conf"]


def test_every_instance_of_a_template_is_stopped(units: Path, tmp_path: Path) -> None:
    """Those that are loaded and those that start with the machine, each once; the template itself is none."""
    (units / "lanternslide@.service").write_text(OURS)
    system = System(
        tmp_path,
        """
case "$2" in
list-units) echo "lanternslide@juno.service loaded active running x"; echo "lanternslide@ida.service loaded failed";;
list-unit-files) echo "lanternslide@.service disabled enabled"; echo; echo "lanternslide@ida.service enabled";;
esac
""",
    )

    take_away(installed(units), system.command)

    assert [line for line in system.asked() if "disable" in line] == [
        "--user disable --now lanternslide@ida.service lanternslide@juno.service"
    ]


def test_a_template_without_an_instance_stops_nothing(units: Path, tmp_path: Path) -> None:
    """Its file goes all the same."""
    (units / "lanternslide@.service").write_text(OURS)
    system = System(tmp_path)

    take_away(installed(units), system.command)

    assert not any("disable" in line for line in system.asked())
    assert list(units.iterdir()) == []


def test_a_service_that_cannot_be_stopped_keeps_its_files(units: Path, tmp_path: Path) -> None:
    """So that it can be taken away again once that is mended."""
    (units / "lanternslide.service").write_text(OURS)

    with pytest.raises(InstallError, match="not now") as caught:
        take_away(installed(units), System(tmp_path, "echo not now >&2; exit 1").command)

    assert key_of(caught) == Install.REFUSED.value
    assert (units / "lanternslide.service").exists()


def test_a_failure_that_cannot_be_forgotten_is_none(units: Path, tmp_path: Path) -> None:
    """A service that has not failed has none to forget."""
    (units / "lanternslide.service").write_text(OURS)

    take_away(installed(units), System(tmp_path, '[ "$2" != reset-failed ]').command)

    assert list(units.iterdir()) == []


# What runs


@pytest.mark.parametrize(("does", "running"), [("exit 0", True), ("exit 3", False)])
def test_whether_it_runs(tmp_path: Path, does: str, *, running: bool) -> None:
    """As systemd says, of any of its units."""
    system = System(tmp_path, does)

    assert is_running(["lanternslide@ida", "lanternslide@juno"], system.command) is running
    assert system.asked() == ["--user is-active --quiet lanternslide@ida lanternslide@juno"]


@pytest.mark.parametrize(
    ("said", "version"),
    [("systemd 252 (252.22-1~deb12u1)", 252), ("systemd 257 (257~rc1-2)", 257), ("systemd 249.11 (x)", 249)],
)
def test_the_version_that_runs_this_machine(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, said: str, version: int
) -> None:
    """The first number that it says, where it runs at all."""
    System(tmp_path, f"echo '{said}'; echo '+PAM +AUDIT'")
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    monkeypatch.setattr(systemd, "STARTED_BY_SYSTEMD", tmp_path)

    assert systemd_version() == version


def test_a_machine_that_systemd_does_not_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A container, for instance (sd_booted(3))."""
    monkeypatch.setattr(systemd, "STARTED_BY_SYSTEMD", tmp_path / "none")

    with pytest.raises(InstallError) as caught:
        systemd_version()

    assert key_of(caught) == Install.NO_SYSTEMD.value
