"""The service as a task of Windows, with a stand-in for the Task Scheduler's program; no Windows is asked."""

from __future__ import annotations

import sys
from pathlib import Path, PureWindowsPath

import pytest
from click.testing import CliRunner

from lanternslide.cli import main
from lanternslide.cli.commands.windows_task import install_task, task_to_print, uninstall_task
from lanternslide.errors import InstallError, UsageError
from lanternslide.install import TaskDefinition, config_in, task_file
from lanternslide.storage.mounts import Mount, is_mapped_drive
from tests.support.schtasks import System, service
from tests.support.service import PLAIN

HERE = PureWindowsPath("C:\\Lanternslide")


@pytest.fixture
def system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> System:
    """Put the stand-in on the path, and let it show a task whose config is `lanternslide.toml`."""
    folder = tmp_path / "system"
    folder.mkdir()
    monkeypatch.setenv("PATH", str(folder))
    system = System(folder)
    config = PureWindowsPath(tmp_path / "lanternslide.toml")
    system.show(task_file(TaskDefinition(user="ida", python=HERE / "pythonw.exe", config=config, folder=HERE)))
    return system


def verbs(system: System) -> list[str]:
    """Return what the stand-in was asked for."""
    return [arguments[0] for arguments in system.asked()]


def test_the_service_that_stops_is_the_tasks_own(
    system: System, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The config that the task names says where the service works, not the one that lies about or is set."""
    other = tmp_path / "other"
    other.mkdir()
    (other / "lanternslide.toml").write_text(PLAIN.replace('"state"', '"elsewhere"'), "utf-8")
    monkeypatch.chdir(other)
    monkeypatch.setenv("LANTERNSLIDE_CONFIG", str(other / "lanternslide.toml"))
    (tmp_path / "lanternslide.toml").write_text(PLAIN, "utf-8")
    (tmp_path / "state").mkdir()
    with service(tmp_path / "state") as running:
        uninstall_task()
        assert running.wait(5) == 0

    assert verbs(system) == ["/Query", "/Change", "/Delete"]
    assert "lanternslide is gone" in capsys.readouterr().out


@pytest.mark.parametrize("config", [None, "[photographers.ida]\ndrop = 7\n"])
def test_a_config_that_cannot_be_used_leaves_all_as_it_is(system: System, tmp_path: Path, config: str | None) -> None:
    """Its owner is told what is wrong, and each step to do it by hand."""
    if config is not None:
        (tmp_path / "lanternslide.toml").write_text(config, "utf-8")
    with pytest.raises(InstallError) as caught:
        uninstall_task()

    for part in (str(tmp_path / "lanternslide.toml"), "/DISABLE", "file named stop", "/Delete", "administrator"):
        assert part in str(caught.value)
    assert verbs(system) == ["/Query"]


def test_a_task_that_names_no_config_leaves_all_as_it_is(system: System) -> None:
    """What was changed by hand so that no config is named is not guessed at."""
    system.show(b"<Task/>")
    with pytest.raises(InstallError, match=r"names none.*/DISABLE"):
        uninstall_task()

    assert verbs(system) == ["/Query"]


def test_where_no_task_is_seen(system: System, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing is done, and that a plain terminal may not be shown it is said."""
    system.refuse("/Query")
    uninstall_task()

    assert "administrator" in capsys.readouterr().out
    assert verbs(system) == ["/Query"]


def test_a_task_is_registered_on_windows_alone(system: System, tmp_path: Path) -> None:
    """Elsewhere the example is named, and nobody is asked."""
    with pytest.raises(InstallError, match=r"deploy/lanternslide-task\.xml"):
        install_task(tmp_path / "lanternslide.toml")

    assert system.asked() == []


def test_what_has_to_be_changed_is_said_elsewhere(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A task that was written on another system has that one's paths; the file itself holds nothing but the task."""
    data = task_to_print(tmp_path / "lanternslide.toml")

    said = capsys.readouterr()
    assert said.out == ""
    assert "UserId" in said.err
    assert config_in(data.decode("utf-16")) == PureWindowsPath(tmp_path / "lanternslide.toml")


def test_a_config_on_a_drive_that_is_a_share(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The task will not have that drive; on Windows its owner is told, with the way out."""
    share, disk = [Mount(tmp_path, "remote")], [Mount(tmp_path, "ntfs")]
    assert not is_mapped_drive(tmp_path / "x.toml", lambda: share)
    monkeypatch.setattr(sys, "platform", "win32")
    assert is_mapped_drive(tmp_path / "x.toml", lambda: share)
    assert not is_mapped_drive(tmp_path / "x.toml", lambda: disk)
    assert not is_mapped_drive(Path("elsewhere"), lambda: share)

    monkeypatch.setattr("lanternslide.cli.commands.windows_task.is_mapped_drive", lambda _path: True)
    task_to_print(tmp_path / "x.toml")
    assert r"\\nas\photos" in capsys.readouterr().err


def test_there_is_one_task_for_all(system: System, monkeypatch: pytest.MonkeyPatch) -> None:
    """What parts users on Linux is refused with a sentence, before anything is asked."""
    monkeypatch.setattr(sys, "platform", "win32")
    for arguments in (["uninstall", "--user"], ["install", "--windows-task", "--per-photographer"]):
        ran = CliRunner().invoke(main.cli, arguments)
        assert isinstance(ran.exception, UsageError)
        assert "one task" in str(ran.exception)

    assert system.asked() == []
