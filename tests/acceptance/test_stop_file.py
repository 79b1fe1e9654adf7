"""A service that is stopped by a file, and one that has no error stream, as Windows starts it."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from lanternslide.ledger import ask_to_stop
from tests.support.pictures import save_jpeg
from tests.support.service import PATIENCE, PLAIN, SERVICE, Home, Watching, make_home, watching

PICTURES = 20
ONE_BY_ONE = PLAIN.replace("workers = 2", "workers = 1")

WITHOUT_STREAMS = """
import sys
if __name__ == "__main__":
    sys.stdin = sys.stdout = sys.stderr = sys.__stdout__ = sys.__stderr__ = None
    from lanternslide.cli.main import entrypoint
    entrypoint()
"""
"""Stands in for a Python without a console (``pythonw.exe``), which has no streams; it runs on Windows alone."""


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a photographer's folders, with pictures that are made one by one."""
    home = make_home(tmp_path, ONE_BY_ONE)
    for number in range(PICTURES):
        save_jpeg(home.drop() / f"picture-{number}.jpg", 600, 400, seed=number)
    return home


def state_of(home: Home) -> Path:
    """Return the state folder."""
    return home.root / "state"


def by_signal(_home: Home, service: Watching) -> None:
    """Ask for a stop as systemd does."""
    service.process.send_signal(signal.SIGTERM)


def by_file(home: Home, _service: Watching) -> None:
    """Ask for a stop by the file."""
    ask_to_stop(state_of(home))


@pytest.mark.parametrize("ask", [by_signal, by_file])
def test_a_stop_leaves_everything_in_order(home: Home, ask: Callable[[Home, Watching], None]) -> None:
    """A signal and the stop file alike: what is at work ends, nothing half-done stays, and the rest is done later."""
    with watching(home) as service:
        service.until(home.delivered, "the first delivery")
        asked = time.monotonic()
        ask(home, service)
        assert service.process.wait(PATIENCE) == 0
        assert time.monotonic() - asked < 20  # the grace time is longer; one picture takes less

    found = home.delivered()
    with closing(sqlite3.connect(state_of(home) / "ledger.sqlite")) as ledger:
        states = dict(ledger.execute("SELECT state, COUNT(*) FROM original GROUP BY state").fetchall())
    assert 0 < len(found) < 2 * PICTURES
    assert states.keys() <= {"waiting", "delivered"}
    assert states["waiting"] > 0
    assert [name for name in found if name.endswith(".part") or Path(name).name.startswith(".")] == []
    assert not (state_of(home) / "stop").exists()
    assert service.events()[-1]["event"] == "stopped"

    with watching(home) as service:
        service.until(lambda: len(home.delivered()) == 2 * PICTURES, "the rest")
        assert service.stop() == 0
    assert found.items() <= home.delivered().items()


def test_a_stop_file_of_before_stops_nobody(home: Home) -> None:
    """One that was left while no service ran is taken away at the start."""
    state_of(home).mkdir()
    ask_to_stop(state_of(home))
    with watching(home) as service:
        service.until(lambda: len(home.delivered()) == 2 * PICTURES, "all deliveries")
        assert not (state_of(home) / "stop").exists()
        assert service.stop() == 0


def test_a_service_without_streams_keeps_a_log_and_stops_by_file(home: Home) -> None:
    """Without any stream it does its work in its own and its workers' processes, and says in a file what it does."""
    script = home.root / "without_streams.py"
    script.write_text(WITHOUT_STREAMS)
    command = [sys.executable, str(script), "--config", str(home.config), "watch"]
    process = subprocess.Popen(command, env={**os.environ, "PYTHONPATH": str(SERVICE)})
    end = time.monotonic() + PATIENCE
    while len(home.delivered()) < 2 * PICTURES:
        assert process.poll() is None
        assert time.monotonic() < end
        time.sleep(0.1)
    ask_to_stop(state_of(home))
    assert process.wait(PATIENCE) == 0

    lines = (state_of(home) / "log.jsonl").read_text("utf-8").splitlines()
    events = [json.loads(line)["event"] for line in lines]
    assert (events[0], events[-1]) == ("watching", "stopped")
    assert events.count("delivered") == 2 * PICTURES


def test_a_sweep_without_streams(home: Home) -> None:
    """A sweep that is started without any stream does its work and says in the same file what it did."""
    script = home.root / "without_streams.py"
    script.write_text(WITHOUT_STREAMS)
    command = [sys.executable, str(script), "--config", str(home.config), "sweep"]
    done = subprocess.run(command, env={**os.environ, "PYTHONPATH": str(SERVICE)}, check=False, timeout=PATIENCE)

    assert done.returncode == 0
    assert len(home.delivered()) == 2 * PICTURES
    assert '"batch done"' in (state_of(home) / "log.jsonl").read_text("utf-8")


def test_without_streams_the_last_error_is_in_a_file(home: Home, tmp_path: Path) -> None:
    """The user's own state folder has it, since the config may be what is wrong; `check` says it until all is well."""
    home.config.write_text(PLAIN.replace("long_edge = 1050", "long_edge = 'wide'"))
    script = home.root / "without_streams.py"
    script.write_text(WITHOUT_STREAMS)
    command = [sys.executable, str(script), "--config", str(home.config), "watch"]
    environment = {**os.environ, "PYTHONPATH": str(SERVICE), "XDG_STATE_HOME": str(tmp_path / "own")}
    done = subprocess.run(command, env=environment, check=False, timeout=PATIENCE)

    assert done.returncode == 2
    error = tmp_path / "own" / "lanternslide" / "error.txt"
    assert "destinations.portfolio.size" in error.read_text("utf-8")

    home.config.write_text(PLAIN)
    check = [sys.executable, "-m", "lanternslide", "--config", str(home.config), "check"]
    checked = subprocess.run(check, env=environment, check=False, timeout=PATIENCE, capture_output=True, text=True)
    said = "".join(checked.stdout.split())  # a long path is folded
    expected = f"note error.txt Lanternslide ended with an error where nobody could see it. The file {error}"
    assert "".join(expected.split()) in said
    assert "destinations.portfolio.size" in said

    with subprocess.Popen(command, env=environment) as watching:
        end = time.monotonic() + PATIENCE
        while error.exists() and time.monotonic() < end:
            time.sleep(0.1)
        watching.terminate()
        assert watching.wait(PATIENCE) == 0
    assert not error.exists()
