"""What ``check`` finds out about a scheduler and its workers; it gives them no work and writes nothing."""

from __future__ import annotations

import asyncio
import pkgutil
from collections import Counter
from typing import Any

from lanternslide import __version__
from lanternslide.config import Settings
from lanternslide.errors import PassingFaultError
from lanternslide.words import Check, Passing, Said, counted, say
from lanternslide.workers.cluster.link import CONNECT_SECONDS, connect, disconnect
from lanternslide.workers.cluster.registry import VERSION, Unreachable, check_scheduler, host_in, within

__all__ = ["visit"]


def visit(settings: Settings) -> tuple[Said | None, tuple[Said, ...]]:
    """Return who is there, and what is wrong; nobody is where the scheduler does not answer or is another version."""
    return asyncio.run(_visit(settings))


async def _visit(settings: Settings) -> tuple[Said | None, tuple[Said, ...]]:
    address = settings.service.executor
    try:
        client = await connect(settings)
    except PassingFaultError as fault:
        return None, (fault.said,)
    try:
        await check_scheduler(address, client)
        found = await within(CONNECT_SECONDS, client.run(pkgutil.resolve_name, VERSION, on_error="return"))
    except PassingFaultError as fault:
        return None, (fault.said,)
    except Unreachable as error:
        return None, (say(Passing.SCHEDULER_AWAY, address=address, detail=error),)
    finally:
        await disconnect(client)
    hosts = Counter(host_in(worker) for worker in found)
    shown = ", ".join(f"{number} on {host}" for host, number in sorted(hosts.items()))
    workers = counted(len(found), "worker is", "workers are") + " there" + (f": {shown}" if shown else "")
    wrong = tuple(dict.fromkeys(said for worker, version in found.items() if (said := _fault_of(worker, version))))
    return say(Check.SCHEDULER_FINE, address=address, workers=workers), wrong


def _fault_of(worker: str, version: Any) -> Said | None:
    """Return why a worker would get no work, as far as its version tells."""
    host = host_in(worker)
    if isinstance(version, BaseException):
        return say(Passing.WORKER_CANNOT_LOAD, host=host, detail=version)
    if version != __version__:
        return say(Passing.WORKER_OTHER_VERSION, host=host, package="lanternslide", theirs=version, ours=__version__)
    return None
