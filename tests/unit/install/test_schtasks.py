"""Registering the task and removing it, with a stand-in for Windows' own program."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path, PureWindowsPath

import pytest

from lanternslide.errors import ServiceRunsOnError, TaskRefusedError
from lanternslide.install import TaskDefinition, config_in, register_task, registered_task, remove_task, task_file
from lanternslide.install import schtasks as module
from lanternslide.ledger import StateLock
from tests.support.schtasks import System, service

TASK = TaskDefinition(
    user="SKERROW\\ida",
    python=PureWindowsPath("C:\\Lanternslide\\pythonw.exe"),
    config=PureWindowsPath("C:\\Users\\ida\\lanternslide.toml"),
    folder=PureWindowsPath("C:\\Users\\ida"),
)


@pytest.fixture
def system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> System:
    """Put the stand-in on the path, and nothing else there."""
    folder = tmp_path / "system"
    folder.mkdir()
    monkeypatch.setenv("PATH", str(folder))
    return System(folder)


def test_registering_hands_the_file_over_and_has_the_password_asked_for(system: System) -> None:
    """Windows gets the task's file, its name and account, and asks for the password itself."""
    register_task(TASK)

    ((verb, xml, file, *rest),) = system.asked()
    assert (verb, xml, rest) == ("/Create", "/XML", ["/TN", "lanternslide", "/RU", "SKERROW\\ida", "/RP", "*"])
    assert system.files() == [task_file(TASK)]
    assert not Path(file).exists()


def test_a_refusal_names_the_command_and_what_was_said(system: System) -> None:
    """What Windows says reaches the owner, with what to do; nothing is taken for done."""
    system.refuse("/Change")
    with pytest.raises(TaskRefusedError, match=r"/Change /TN lanternslide /DISABLE.*Access is denied.*administrator"):
        remove_task("lanternslide", system.folder.parent / "state", grace_seconds=1)

    assert [arguments[0] for arguments in system.asked()] == ["/Change"]


def test_where_there_is_no_task_scheduler(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A system without the program is told so."""
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(TaskRefusedError, match="only Windows has it"):
        registered_task("lanternslide")


def test_the_service_has_stopped_before_its_task_is_deleted(system: System, tmp_path: Path) -> None:
    """Removal switches the task off, has the service stop, waits for it, and only then deletes the task."""
    state = tmp_path / "state"
    state.mkdir()
    with service(state) as running:
        remove_task("lanternslide", state, grace_seconds=1)
        assert running.wait(5) == 0

    assert system.asked() == [
        ["/Change", "/TN", "lanternslide", "/DISABLE"],
        ["/Delete", "/TN", "lanternslide", "/F"],
    ]
    assert ["stop" in names for names in system.in_state()] == [False, False]


def test_a_service_that_runs_on_keeps_its_task(system: System, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the service has not stopped in time, the task stays, switched off, and its owner is told who works there."""
    monkeypatch.setattr(module, "SPARE_SECONDS", 0.1)
    state = tmp_path / "state"
    with (
        StateLock(state, "lanternslide watch"),
        pytest.raises(ServiceRunsOnError, match=r"lanternslide watch, process .* did not stop within"),
    ):
        remove_task("lanternslide", state, grace_seconds=0.5)

    assert [arguments[0] for arguments in system.asked()] == ["/Change"]


@pytest.mark.parametrize("mark", [b"", b"\xff\xfe"])
def test_the_task_itself_says_with_which_config_it_runs(system: System, mark: bytes) -> None:
    """What Windows shows of the task is read in the terminal's letters or in UTF-16; nobody is asked anything."""
    text = task_file(TASK).decode("utf-16")
    system.show(mark + text.encode("utf-16-le" if mark else "utf-8"))

    assert config_in(registered_task("lanternslide") or "") == TASK.config
    assert system.asked() == [["/Query", "/TN", "lanternslide", "/XML"]]


def test_what_is_not_registered_has_no_definition(system: System) -> None:
    """Windows says that there is no such task, or shows it not."""
    system.refuse("/Query")

    assert registered_task("lanternslide") is None


@pytest.mark.usefixtures("system")
def test_nothing_waits_for_an_answer_that_nobody_gives() -> None:
    """The program finds the end of its input at once, though the terminal has not ended."""
    script = "from lanternslide.install import registered_task; print(repr(registered_task('lanternslide')))"
    with subprocess.Popen(
        [sys.executable, "-c", script], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "''\n"  # while its input is open


def test_a_holder_that_cannot_be_asked_for_counts(
    system: System, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the state folder does not say whether somebody works there, the task stays, switched off."""
    monkeypatch.setattr(module, "SPARE_SECONDS", 0.1)
    state = tmp_path / "state"
    (state / "lock").mkdir(parents=True)  # it cannot be opened, as what is another user's
    with pytest.raises(ServiceRunsOnError, match=r"somebody who cannot be asked for .* did not stop within"):
        remove_task("lanternslide", state, grace_seconds=0.2)

    assert system.asked() == [["/Change", "/TN", "lanternslide", "/DISABLE"]]


def test_nobody_at_work_is_asked_nothing(system: System, tmp_path: Path) -> None:
    """Where no service runs, no stop file is left behind to stop the next one."""
    state = tmp_path / "state"
    state.mkdir()

    remove_task("lanternslide", state, grace_seconds=1)
    assert system.in_state() == [[], []]
    assert list(state.iterdir()) == []
