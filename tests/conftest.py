"""What all tests share: the --long option, and an environment without settings of the person who runs them."""

from __future__ import annotations

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add --long."""
    parser.addoption("--long", action="store_true", help="run the tests that take minutes, too")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the long tests out, by name and with the reason, unless they are asked for."""
    if config.getoption("--long"):
        return
    for item in items:
        if item.get_closest_marker("long"):
            item.add_marker(pytest.mark.skip(reason="takes minutes; sh tests/run.sh --long runs it"))


@pytest.fixture(autouse=True)
def plain_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take away variables that would choose a config or a state folder."""
    for name in ("LANTERNSLIDE_CONFIG", "STATE_DIRECTORY"):
        monkeypatch.delenv(name, raising=False)
