"""What all tests share: the options that add tests, and an environment without settings of the person who runs them."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

if sys.platform != "win32":
    import fcntl

TESTS = Path(__file__).parent
SLOW_FOLDERS = ("booted", "cluster", "faults")
"""Folders whose tests are slow, each of them."""

LEFT_OUT = {
    "slow": "booted systems, clusters, faults, photographs: sh tests/run.sh --all",
    "long": "300 kills and 2,000 hostile files: sh tests/run.sh --long",
}
"""Marks of tests that a plain run leaves out, and how to run them."""


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add --all and --long."""
    parser.addoption("--all", action="store_true", help="run booted systems, clusters, faults and photographs, too")
    parser.addoption("--long", action="store_true", help="run all tests, and those that take minutes each")


def pytest_configure() -> None:
    """Let Ctrl-C reach what tests start, also where a shell began this run in the background and has it ignored."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def left_out(config: pytest.Config) -> set[str]:
    """Return the marks of the tests that nobody has asked for."""
    if config.getoption("--long"):
        return set()
    return {"long"} if config.getoption("--all") else {"slow", "long"}


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what was not asked for; whoever names a slow folder, file or test has asked for it."""
    named = [Path(argument.split("::")[0]).resolve() for argument in config.args]
    named = [path for path in named if path.is_file() or path.name in SLOW_FOLDERS]
    for item in items:
        if any(item.path.is_relative_to(TESTS / folder) for folder in SLOW_FOLDERS):
            item.add_marker(pytest.mark.slow)
    unwanted = left_out(config)
    chosen: list[pytest.Item] = []
    others: list[pytest.Item] = []
    for item in items:
        is_named = any(item.path.resolve().is_relative_to(path) for path in named)
        marks = unwanted - {"slow"} if is_named else unwanted
        (others if any(item.get_closest_marker(mark) for mark in marks) else chosen).append(item)
    config.hook.pytest_deselected(items=others)
    items[:] = chosen


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say what is left out unless one asks for it."""
    for mark in sorted(left_out(terminalreporter.config), reverse=True):
        terminalreporter.write_line(f"Left out if not named: {LEFT_OUT[mark]}")


@pytest.fixture(autouse=True)
def room(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Have a test that is marked `alone` run while no other does, in any process of this run."""
    if sys.platform == "win32":
        yield
        return
    # Who waits to be alone holds the gate, so that nobody else begins meanwhile.
    folder = tmp_path_factory.getbasetemp()
    shared = folder.parent if os.environ.get("PYTEST_XDIST_WORKER") else folder
    is_alone = request.node.get_closest_marker("alone") is not None
    with (shared / "gate").open("w") as gate, (shared / "room").open("w") as taken:
        fcntl.flock(gate, fcntl.LOCK_EX)
        fcntl.flock(taken, fcntl.LOCK_EX if is_alone else fcntl.LOCK_SH)
        fcntl.flock(gate, fcntl.LOCK_UN)
        yield


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take away variables that would choose a config or a state folder."""
    for name in ("LANTERNSLIDE_CONFIG", "STATE_DIRECTORY"):
        monkeypatch.delenv(name, raising=False)
