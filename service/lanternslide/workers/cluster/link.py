"""The connection to a scheduler, encrypted where it leaves this machine."""

from __future__ import annotations

import asyncio
import warnings
from contextlib import suppress

from distributed import Client
from distributed.security import Security
from distributed.versions import VersionMismatchWarning

from lanternslide.config import Settings
from lanternslide.errors import PassingFaultError
from lanternslide.words import Passing

__all__ = ["CONNECT_SECONDS", "address_of", "connect", "disconnect"]

CONNECT_SECONDS = 10.0
"""A scheduler that does not answer by then is away."""

LEAVE_SECONDS = 2.0
"""A scheduler gets so long to hear that nobody asks any more."""

# Versions are compared by the service itself, which then says what to do.
warnings.filterwarnings("ignore", category=VersionMismatchWarning)


def address_of(executor: str) -> str:
    """Return the engine's name for the scheduler of an `executor` in the config."""
    scheme, _, place = executor.partition("://")
    return f"{'tls' if scheme.endswith('+tls') else 'tcp'}://{place}"


async def connect(settings: Settings) -> Client:
    """Return a client of the scheduler that *settings* name, connected.

    Raises
    ------
    PassingFaultError
        If it does not answer, does not show the right keys, or has a version that this one does not understand.
    """
    try:
        client = _client_for(settings)
    except (OSError, ValueError) as error:  # its keys cannot be loaded
        raise _away(settings, error) from error
    try:
        await client
    except BaseException as error:
        await disconnect(client)
        if isinstance(error, (OSError, ImportError, RuntimeError, ValueError)):
            raise _away(settings, error) from error
        raise
    return client


async def disconnect(client: Client) -> None:
    """Close a client, and wait no longer than a moment for that.

    What it raises meanwhile is let go of with it: one that is closed while it connects anew raises RuntimeError or
    AssertionError (distributed 2026.8.0), and nothing of it is used any more.
    """
    closing = asyncio.ensure_future(client.close(timeout=LEAVE_SECONDS))
    with suppress(Exception, asyncio.CancelledError):
        await asyncio.wait({closing}, timeout=2 * LEAVE_SECONDS)
        if closing.done():
            closing.result()


def _away(settings: Settings, error: BaseException) -> PassingFaultError:
    return PassingFaultError(Passing.SCHEDULER_AWAY, address=settings.service.executor, detail=error)


def _client_for(settings: Settings) -> Client:
    cluster = settings.cluster
    security = None
    if cluster is not None and cluster.tls_ca is not None:
        security = Security(
            tls_ca_file=str(cluster.tls_ca),
            tls_client_cert=str(cluster.tls_cert),
            tls_client_key=str(cluster.tls_key),
            require_encryption=settings.service.executor.startswith("dask+tls"),
        )
    return Client(
        address_of(settings.service.executor),
        asynchronous=True,
        set_as_default=False,
        security=security,
        timeout=CONNECT_SECONDS,
        direct_to_workers=False,
    )
