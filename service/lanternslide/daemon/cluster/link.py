"""The connection to a scheduler, encrypted where it leaves this machine."""

from __future__ import annotations

import warnings

from distributed import Client
from distributed.security import Security
from distributed.versions import VersionMismatchWarning

from lanternslide.config import Settings

__all__ = ["CONNECT_SECONDS", "address_of", "connect"]

CONNECT_SECONDS = 10.0
"""A scheduler that does not answer by then is away."""

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
    OSError
        If it does not answer, or does not show the right keys.
    ImportError
        If its version and this one do not understand each other.
    """
    cluster = settings.cluster
    security = None
    if cluster is not None and cluster.tls_ca is not None:
        security = Security(
            tls_ca_file=str(cluster.tls_ca),
            tls_client_cert=str(cluster.tls_cert),
            tls_client_key=str(cluster.tls_key),
            require_encryption=settings.service.executor.startswith("dask+tls"),
        )
    client = Client(
        address_of(settings.service.executor),
        asynchronous=True,
        set_as_default=False,
        security=security,
        timeout=CONNECT_SECONDS,
        direct_to_workers=False,
    )
    return await client
