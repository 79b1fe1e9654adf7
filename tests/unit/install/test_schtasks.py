"""Registering the task and removing it, with a stand-in for Windows' own program.

The stand-in is a fake: the real one runs on Windows alone. It notes what it is asked and answers as told; what the real
one answers was never seen here.
"""

from __future__ import annotations

import json
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PureWindowsPath

import pytest

from lanternslide.errors import ServiceRunsOnError, TaskRefusedError
from lanternslide.install import TaskDefinition, is_registered, register_task, remove_task, task_file
from lanternslide.install import schtasks as module
from lanternslide.ledger import StateLock

TASK = TaskDefinition(
    user="SKERROW\\ida",
    python=PureWindowsPath("C:\\Lanternslide\\pythonw.exe"),
    config=PureWindowsPath("C:\\Users\\ida\\lanternslide.toml"),
    folder=PureWindowsPath("C:\\Users\\ida"),
)

STAND_IN = """#!{python}
import json, pathlib, sys
here = pathlib.Path(__file__).parent
asked = sys.argv[1:]
files = [pathlib.Path(asked[asked.index("/XML") + 1]).read_bytes().hex()] if "/XML" in asked else []
with (here / "asked").open("a") as log:
    log.write(json.dumps([asked, files, sorted(path.name for path in (here.parent / "state").glob("*"))]) + "\\n")
refused = (here / "refuses").read_text().split() if (here / "refuses").exists() else []
if asked[0] in refused:
    print("ERROR: Access is denied.", file=sys.stderr)
    sys.exit(1)
"""

HOLDER = """
import sys, time
from pathlib import Path
from lanternslide.ledger import StateLock, stop_asked
folder = Path(sys.argv[1])
with StateLock(folder, "lanternslide watch"):
    print("holds", flush=True)
    while not stop_asked(folder):
        time.sleep(0.02)
"""
"""A process that holds a state folder until the stop file asks it not to."""


class System:
    """Where the stand-in notes what it was asked."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        program = folder / "schtasks"
        program.write_text(STAND_IN.replace("{python}", sys.executable))
        program.chmod(program.stat().st_mode | stat.S_IXUSR)

    def refuse(self, verb: str) -> None:
        """Answer *verb* with a refusal from now on."""
        (self.folder / "refuses").write_text(verb)

    def asked(self) -> list[list[str]]:
        """Return the arguments of every call."""
        return [arguments for arguments, _, _ in self._notes()]

    def files(self) -> list[bytes]:
        """Return the task files that were handed over."""
        return [bytes.fromhex(file) for _, files, _ in self._notes() for file in files]

    def in_state(self) -> list[list[str]]:
        """Return what lay in the state folder at every call."""
        return [names for _, _, names in self._notes()]

    def _notes(self) -> list[tuple[list[str], list[str], list[str]]]:
        log = self.folder / "asked"
        return [json.loads(line) for line in log.read_text().splitlines()] if log.exists() else []


@pytest.fixture
def system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> System:
    """Put the stand-in on the path, and nothing else there."""
    folder = tmp_path / "system"
    folder.mkdir()
    monkeypatch.setenv("PATH", str(folder))
    return System(folder)


@contextmanager
def service(state: Path) -> Iterator[subprocess.Popen[str]]:
    """Hold *state* in another process meanwhile, until it is asked to stop."""
    process = subprocess.Popen([sys.executable, "-c", HOLDER, str(state)], stdout=subprocess.PIPE, text=True)
    with process:
        assert process.stdout is not None
        assert process.stdout.readline() == "holds\n"
        yield process
        process.kill()


def test_registering_hands_the_file_over_and_has_the_password_asked_for(system: System) -> None:
    """Windows gets the task's file, its name and account, and asks for the password itself."""
    register_task(TASK)

    ((verb, xml, file, *rest),) = system.asked()
    assert (verb, xml, rest) == ("/Create", "/XML", ["/TN", "lanternslide", "/RU", "SKERROW\\ida", "/RP", "*"])
    assert system.files() == [task_file(TASK)]
    assert not Path(file).exists()


def test_registering_anew_replaces_only_where_that_was_said(system: System) -> None:
    """Without a word Windows asks before it replaces a task; with one it does not."""
    register_task(TASK, again=True)

    assert system.asked()[0][-1] == "/F"


def test_a_refusal_names_the_command_and_what_was_said(system: System) -> None:
    """What Windows says reaches the owner, with what to do; nothing is taken for done."""
    system.refuse("/Change")
    with pytest.raises(TaskRefusedError, match=r"/Change /TN lanternslide /DISABLE.*Access is denied.*administrator"):
        remove_task("lanternslide", system.folder.parent / "state", grace_seconds=1)

    assert [arguments[0] for arguments in system.asked()] == ["/Query", "/Change"]


def test_where_there_is_no_task_scheduler(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A system without the program is told so."""
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(TaskRefusedError, match="only Windows has it"):
        is_registered("lanternslide")


def test_the_service_has_stopped_before_its_task_is_deleted(system: System, tmp_path: Path) -> None:
    """Removal switches the task off, has the service stop, waits for it, and only then deletes the task."""
    state = tmp_path / "state"
    state.mkdir()
    with service(state) as running:
        assert remove_task("lanternslide", state, grace_seconds=1)
        assert running.wait(5) == 0

    assert [arguments[0] for arguments in system.asked()] == ["/Query", "/Change", "/Delete"]
    assert system.asked()[1:] == [
        ["/Change", "/TN", "lanternslide", "/DISABLE"],
        ["/Delete", "/TN", "lanternslide", "/F"],
    ]
    assert ["stop" in names for names in system.in_state()] == [False, False, False]


def test_a_service_that_runs_on_keeps_its_task(system: System, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the service has not stopped in time, the task stays, switched off, and its owner is told who works there."""
    monkeypatch.setattr(module, "SPARE_SECONDS", 0.1)
    state = tmp_path / "state"
    with (
        StateLock(state, "lanternslide watch"),
        pytest.raises(ServiceRunsOnError, match=r"lanternslide watch, process .* did not stop within"),
    ):
        remove_task("lanternslide", state, grace_seconds=0.5)

    assert [arguments[0] for arguments in system.asked()] == ["/Query", "/Change"]


def test_where_nothing_is_registered_nothing_is_removed(system: System, tmp_path: Path) -> None:
    """Without a task nothing is asked of the service, either."""
    system.refuse("/Query")

    assert not remove_task("lanternslide", tmp_path / "state", grace_seconds=1)
    assert [arguments[0] for arguments in system.asked()] == ["/Query"]


def test_nobody_at_work_is_asked_nothing(system: System, tmp_path: Path) -> None:
    """Where no service runs, no stop file is left behind to stop the next one."""
    state = tmp_path / "state"
    state.mkdir()

    assert remove_task("lanternslide", state, grace_seconds=1)
    assert system.in_state() == [[], [], []]
    assert list(state.iterdir()) == []
