"""Checks of what a config says about work on more than one machine."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.util import find_spec
from ipaddress import ip_address
from pathlib import Path

from lanternslide.config.checks.faults import quote
from lanternslide.config.settings import Settings
from lanternslide.errors import ConfigFault
from lanternslide.words import ConfigWord, told

__all__ = ["check_cluster"]

KEYS = ("tls_ca", "tls_cert", "tls_key")


def check_cluster(file: str, settings: Settings) -> Iterator[ConfigFault]:
    """Yield what keeps the service from giving work to a cluster, or would let strangers into it."""
    scheme, _, place = settings.service.executor.partition("://")
    if scheme == "dask" and not _is_this_machine(place.rpartition(":")[0]):
        found = quote(settings.service.executor)
        yield ConfigFault.of(file, "service.executor", ConfigWord.SCHEDULER_NEEDS_KEYS, found=found, place=place)
    if scheme != "local" and find_spec("distributed") is None:
        yield ConfigFault.of(file, "service.executor", ConfigWord.EXTRA_MISSING, detail="distributed")
    yield from _keys(file, settings, needed=scheme == "dask+tls")
    for host, pairs in (settings.cluster.paths if settings.cluster else {}).items():
        for here, there in pairs.items():
            if not (Path(here).is_absolute() and Path(there).is_absolute()):
                found = f"{quote(here)} = {quote(there)}"
                yield ConfigFault.of(file, f"cluster.paths.{host}", ConfigWord.WHOLE_PATHS, found=found)


def _keys(file: str, settings: Settings, *, needed: bool) -> Iterator[ConfigFault]:
    named = {key: getattr(settings.cluster, key, None) for key in KEYS}
    needed = needed or any(named.values())
    for key, path in named.items():
        if path is None:
            if needed:
                yield ConfigFault.of(file, f"cluster.{key}", ConfigWord.KEYS_MISSING)
            continue
        try:
            path.read_bytes()
        except OSError as error:
            detail = told(error)
            yield ConfigFault.of(file, f"cluster.{key}", ConfigWord.KEY_UNREADABLE, path=path, detail=detail)


def _is_this_machine(host: str) -> bool:
    """Return whether a name or number means this machine alone (RFC 1122, 3.2.1.3; RFC 6761, 6.3)."""
    if host == "localhost":
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False
