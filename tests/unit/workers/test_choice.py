"""Which executor a config asks for."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from lanternslide.config import Settings
from lanternslide.config.limits import Limits
from lanternslide.config.settings import Service
from lanternslide.workers.choice import executor_for
from lanternslide.workers.executor import Executor
from lanternslide.workers.pool import Pool
from tests.support.executors import Told, settings_in


@contextmanager
def chosen(settings: Settings, **keys: object) -> Iterator[Executor]:
    """Have what a config with these keys of the service asks for, meanwhile."""
    service = Service.model_validate(keys)
    settings = settings.model_copy(update={"service": service})
    executor = executor_for(settings, Limits.of(service), "0123456789ab", Told())
    try:
        yield executor
    finally:
        executor.close()


def test_without_a_word_it_is_this_machine(tmp_path: Path) -> None:
    """With as many workers and as much memory as the limits say; 100 MiB is what one takes that waits."""
    with chosen(settings_in(tmp_path), workers=2, memory="1000 MiB") as executor:
        assert isinstance(executor, Pool)
        assert executor.slots == 2
        assert (executor.admission.fits(900), executor.admission.fits(901)) == (True, False)


def test_an_address_is_a_cluster(tmp_path: Path) -> None:
    """It has no workers before somebody answers there; this machine's memory is no limit to theirs."""
    with socket.socket() as nobody_listens:
        nobody_listens.bind(("127.0.0.1", 0))
        port = nobody_listens.getsockname()[1]
        with chosen(settings_in(tmp_path), executor=f"dask://127.0.0.1:{port}", memory="200 MiB") as executor:
            assert not isinstance(executor, Pool)
            assert executor.slots == 0
            executor.admission.check(10_000)  # somebody large enough may come
