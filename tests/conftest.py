"""What all tests share: the options that add tests, and an environment without settings of the person who runs them."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
SLOW_FOLDERS = ("booted", "cluster", "faults")
"""Folders whose tests are slow, each of them."""

LEFT_OUT = {
    "slow": "booted systems, clusters, faults and scale: sh tests/run.sh --all",
    "long": "300 kills and 2,000 hostile files: sh tests/run.sh --long",
}
"""Marks of tests that a plain run leaves out, and how to run them."""


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add --all and --long."""
    parser.addoption("--all", action="store_true", help="run booted systems, clusters, faults and scale, too")
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
    """Leave out what was not asked for."""
    for item in items:
        if item.path.relative_to(TESTS).parts[0] in SLOW_FOLDERS:
            item.add_marker(pytest.mark.slow)
    unwanted = left_out(config)
    chosen = [item for item in items if not any(item.get_closest_marker(mark) for mark in unwanted)]
    config.hook.pytest_deselected(items=[item for item in items if item not in set(chosen)])
    items[:] = chosen


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say what was left out."""
    for mark in sorted(left_out(terminalreporter.config), reverse=True):
        terminalreporter.write_line(f"Left out: {LEFT_OUT[mark]}")


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take away variables that would choose a config or a state folder."""
    for name in ("LANTERNSLIDE_CONFIG", "STATE_DIRECTORY"):
        monkeypatch.delenv(name, raising=False)
