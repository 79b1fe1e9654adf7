"""What "auto" means: numbers and times of the service, with the figures that the config's table promises."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from lanternslide.config.limits import Limits, share_of_memory
from lanternslide.config.machine import memory_bytes, usable_cores
from lanternslide.config.settings import Service
from lanternslide.ledger import Ledger

CLUSTER = "dask://127.0.0.1:8786"


def service(**keys: Any) -> Service:
    """Return a service with some keys set, as a config has them."""
    return Service.model_validate(keys)


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """Return a ledger."""
    with Ledger(tmp_path) as ledger:
        yield ledger


def test_auto_is_what_the_machine_has() -> None:
    """Its usable cores, and half of its memory."""
    limits = Limits.of(service())

    assert 1 <= limits.workers <= usable_cores()
    assert limits.memory_mib == memory_bytes() / 2**20


@pytest.mark.parametrize(
    ("asked", "memory", "workers"),
    [
        (7, "1000 MiB", 5),
        (6, "1000 MiB", 5),
        (5, "1000 MiB", 5),
        (4, "1000 MiB", 4),
        (4, "999 MiB", 4),
        (1, "8 GiB", 1),
    ],
)
def test_workers_leave_half_of_the_budget_to_pictures(asked: int, memory: str, workers: int) -> None:
    """Each takes 100 MiB while it merely waits."""
    assert Limits.of(service(workers=asked, memory=memory)).workers == workers


@pytest.mark.parametrize("memory", ["200 MiB", "199 MiB", "1 MiB"])
def test_there_is_always_one_worker(memory: str) -> None:
    """However small the budget: what does not fit is held with both figures."""
    assert Limits.of(service(workers=4, memory=memory)).workers == 1


def test_what_the_config_says_holds() -> None:
    """Numbers that are not "auto" are taken as they are."""
    settle_and_scan = {"settle_seconds": 0.5, "scan_seconds": 7}
    others = {"job_timeout_seconds": 60, "grace_seconds": 5, "attempts": 4, "max_megapixels": 150}
    limits = Limits.of(service(workers=2, memory="2 GiB", **settle_and_scan, **others))

    assert (limits.workers, limits.memory_mib) == (2, 2048)
    assert (limits.grace_seconds, limits.attempts, limits.max_megapixels) == (5, 4, 150)
    assert {limits.settle_seconds(remote=remote) for remote in (True, False)} == {0.5}
    assert {limits.scan_pause(events=events) for events in (True, False)} == {7}
    assert (limits.make_timeout(1000, 4), limits.survey_timeout(10**12)) == (60, 60)


def test_what_the_config_leaves_open_has_the_promised_values() -> None:
    """30 s of grace, 3 attempts, 1000 megapixels."""
    limits = Limits.of(service())

    assert (limits.grace_seconds, limits.attempts, limits.max_megapixels) == (30, 3, 1000)


@pytest.mark.parametrize(("remote", "seconds"), [(False, 2), (True, 10)])
def test_files_settle_longer_on_a_share(*, remote: bool, seconds: float) -> None:
    """2 s on local disks, 10 s on shares."""
    assert Limits.of(service()).settle_seconds(remote=remote) == seconds


@pytest.mark.parametrize(("events", "seconds"), [(True, 600), (False, 30)])
def test_scans_come_more_often_without_events(*, events: bool, seconds: float) -> None:
    """Every ten minutes while events are healthy, every half minute without."""
    assert Limits.of(service()).scan_pause(events=events) == seconds


@pytest.mark.parametrize(("settle", "patience"), [("auto", 300), (1, 30), (0.4, 12), (0.3, 10), (0.1, 10)])
def test_a_sweep_waits_thirty_times_the_settling_and_ten_seconds_at_least(settle: object, patience: float) -> None:
    """A program may write slowly; a sweep that waits for ever would never end."""
    assert Limits.of(service(settle_seconds=settle)).sweep_patience() == pytest.approx(patience)


@pytest.mark.parametrize(
    ("megapixels", "deliveries", "seconds"), [(24, 1, 168), (24, 2, 216), (100, 4, 920), (0.0024, 1, 120.0048)]
)
def test_a_job_has_time_by_its_size(megapixels: float, deliveries: int, seconds: float) -> None:
    """120 s and 2 for each megapixel and delivery."""
    assert Limits.of(service()).make_timeout(megapixels, deliveries) == pytest.approx(seconds)


@pytest.mark.parametrize(("size", "seconds"), [(0, 120), (5_000_000, 121), (5_000_000_000, 1120)])
def test_a_survey_has_time_by_the_bytes_of_its_file(size: int, seconds: float) -> None:
    """A share of 5 MB a second is still waited for."""
    assert Limits.of(service()).survey_timeout(size) == seconds


@pytest.mark.parametrize(
    ("before", "after", "is_other"),
    [
        ({"workers": 2, "memory": "2 GiB"}, {"workers": 2, "memory": "2 GiB", "attempts": 9}, False),
        ({"workers": 2, "memory": "2 GiB"}, {"workers": 2, "memory": "3 GiB"}, True),
        ({"workers": 2, "memory": "2 GiB"}, {"workers": 3, "memory": "2 GiB"}, True),
        ({"executor": CLUSTER, "memory": "2 GiB"}, {"executor": CLUSTER, "memory": "3 GiB"}, False),
        ({"executor": CLUSTER}, {"executor": "dask://127.0.0.1:8787"}, True),
        ({"executor": CLUSTER}, {}, True),
    ],
)
def test_what_was_held_for_memory_is_tried_again_once_that_is_another(
    before: dict[str, object], after: dict[str, object], *, is_other: bool
) -> None:
    """Workers that wait take memory too; in a cluster this machine's does not count."""
    one, other = (Limits.of(found).memory_for(found) for found in (service(**before), service(**after)))

    assert (one != other) is is_other


@pytest.mark.parametrize(("services", "share"), [(1, 4 * 2**30), (3, 4 * 2**30 // 3)])
def test_services_of_single_photographers_share_what_the_config_gives(services: int, share: int) -> None:
    """Together they take no more than the one service would."""
    assert share_of_memory(service(memory="4 GiB"), services) == share
    assert share_of_memory(service(), services) == memory_bytes(services)
