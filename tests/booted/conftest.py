"""Servers to boot, for tests of what is installed on one."""

from __future__ import annotations

import pytest

from tests.support.booted import Layers, make_base, why_not, with_package


@pytest.fixture(scope="session")
def guest_base() -> Layers:
    """Return a fresh server to boot; made once per machine."""
    reason = why_not()
    if reason is not None:
        pytest.skip(f"no server can be booted here: {reason}")
    return make_base()


@pytest.fixture(scope="session")
def guest_with_package(guest_base: Layers) -> Layers:
    """Return a server on which this checkout is installed in /opt/lanternslide; made once for the same code."""
    return with_package(guest_base)
