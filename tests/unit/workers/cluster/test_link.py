"""The connection to a scheduler, let go of in whatever state it is."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from lanternslide.workers.cluster.link import address_of, disconnect


class Client:
    """Stands in for dask's client, which raises these only when it is closed while it connects anew."""

    def __init__(self, error: BaseException) -> None:
        self._error = error

    async def close(self, **_: Any) -> None:
        """Fail to close."""
        raise self._error


@pytest.mark.parametrize("error", [OSError(), RuntimeError("ConnectionPool is closed"), AssertionError()])
def test_letting_go_of_a_client_never_fails(error: Exception) -> None:
    """Whatever it raises: what comes after it, another connection, must not end with it."""
    asyncio.run(disconnect(Client(error)))


@pytest.mark.parametrize(
    ("executor", "address"), [("dask://127.0.0.1:8786", "tcp://127.0.0.1:8786"), ("dask+tls://a:1", "tls://a:1")]
)
def test_a_scheduler_has_the_engines_name(executor: str, address: str) -> None:
    """Encrypted where the config says so."""
    assert address_of(executor) == address
