"""Whom a cluster's work is trusted to: workers that see other folders, have other versions, or were started otherwise.

Real schedulers and workers. A worker with another view of the folders runs in mounts of its own, under another host's
name.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from lanternslide import __version__
from lanternslide.config import Settings
from lanternslide.config.settings import Cluster as ClusterKeys
from lanternslide.daemon.cluster import Cluster
from lanternslide.daemon.executor import ExecutorBroken, ExecutorMended
from lanternslide.records.events import WorkerJoined, WorkerRefused
from tests.support.cluster import ClusterOfProcesses, settings_for
from tests.support.executors import MISBEHAVING, PATIENCE, Told, order, settings_in

LEDGER = "0123456789ab"


def _can_mount() -> bool:
    if sys.platform != "linux" or os.geteuid() != 0 or not shutil.which("nsenter"):
        return False
    command = ["unshare", "--mount", "--uts", "sh", "-c", "hostname attic && mount -t tmpfs none /mnt"]
    return subprocess.run(command, capture_output=True, check=False).returncode == 0


needs_mounts = pytest.mark.skipif(not _can_mount(), reason="mounting is not allowed here")


def on_host(name: str, script: str = "") -> tuple[str, ...]:
    """Return how to start a worker on a host called *name*, in mounts of its own that *script* makes."""
    return ("unshare", "--mount", "--uts", "sh", "-ec", f'hostname {name}\n{script}\nexec "$@"', "sh")


def on_its_host(worker: subprocess.Popen[bytes], *command: str | Path) -> None:
    """Run a command in a worker's mounts."""
    subprocess.run(["nsenter", f"--mount=/proc/{worker.pid}/ns/mnt", *map(str, command)], check=True)


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ClusterOfProcesses]:
    """Run a scheduler for all tests here."""
    cluster = ClusterOfProcesses(tmp_path_factory.mktemp("cluster"))
    cluster.start_scheduler()
    yield cluster
    cluster.close()


@pytest.fixture
def cluster(running: ClusterOfProcesses) -> Iterator[ClusterOfProcesses]:
    """Return it without any worker."""
    yield running
    running.kill_workers()


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Return settings with folders that are there."""
    return settings_in(tmp_path)


@contextmanager
def opened(
    settings: Settings, cluster: ClusterOfProcesses, keys: ClusterKeys | None = None
) -> Iterator[tuple[Cluster, Told]]:
    """Open an executor meanwhile."""
    told = Told()
    executor = Cluster(settings_for(settings, cluster.executor, keys), LEDGER, told, MISBEHAVING)
    try:
        yield executor, told
    finally:
        executor.close()


def until(holds: Callable[[], object], what: str, told: Told | None = None) -> None:
    """Wait until something holds."""
    end = time.monotonic() + PATIENCE
    while not holds():
        assert time.monotonic() < end, f"{what} did not happen: {told.all if told else ''}"
        time.sleep(0.05)


def refused(told: Told) -> dict[str, list[str]]:
    """Return what was said of each host."""
    found: dict[str, list[str]] = {}
    for news in told.all:
        if isinstance(news, WorkerRefused):
            found.setdefault(news.host, []).append(news.said.text)
    return found


def joined(told: Told) -> list[str]:
    """Return the hosts whose workers may have work."""
    return [news.host for news in told.all if isinstance(news, WorkerJoined)]


def left_over(folder: Path) -> list[Path]:
    """Return what lies there under temporary names."""
    return sorted(folder.rglob(".lanternslide-*"))


# What a worker sees


@needs_mounts
def test_who_does_not_see_the_same_gets_no_work_until_it_does(
    settings: Settings, cluster: ClusterOfProcesses, tmp_path: Path
) -> None:
    """Each is refused with its host and its folder; the others go on; once the share is connected it has work."""
    drop, out, other = tmp_path / "drop", tmp_path / "out", tmp_path / "other"
    (drop / "journal").mkdir()
    (drop / "journal" / "a.jpg").write_bytes(b"as it is")
    for name in ("journal", "upper", "work"):
        (other / name).mkdir(parents=True)
    (other / "journal" / "a.jpg").write_bytes(b"as it w@s")
    scripts = {
        "empty": f"mount -t tmpfs none {drop}",
        "otherwise": f"mount --bind {other} {drop}",
        "locked": f"mount --bind {out} {out}; mount -o remount,bind,ro {out}",
        "elsewhere": f"mount -t tmpfs none {other}; mkdir {other}/u {other}/w; "
        f"mount -t overlay none -o lowerdir={out},upperdir={other}/u,workdir={other}/w {out}",
        "good": "",
    }
    workers = {name: cluster.start_workers(1, before=on_host(name, script)) for name, script in scripts.items()}
    workers["nowhere"] = cluster.start_workers(1, before=on_host("nowhere"))
    keys = ClusterKeys(paths={"nowhere": {str(out): str(tmp_path / "not there")}})
    with opened(settings, cluster, keys) as (executor, told):
        until(lambda: len(refused(told)) == 5 and joined(told), "all have looked", told)
        said = {host: texts[0] for host, texts in refused(told).items()}

        assert joined(told) == ["good"]
        assert executor.places == 1
        for host in ("empty", "otherwise"):
            assert said[host].startswith(f"The worker on {host} does not see {drop}/journal/a.jpg as this service does")
        assert "other content" in said["otherwise"]
        assert said["locked"].startswith(f"The worker on locked cannot read or write the folder {out} (")
        assert said["nowhere"].startswith(f"The worker on nowhere cannot read or write the folder {out} (")
        assert said["elsewhere"].startswith(f"What the worker on elsewhere writes into {out} does not arrive here")
        pids = {executor.submit(order("pid", number)).result(PATIENCE).value for number in range(4)}
        assert len(pids) == 1
        on_its_host(workers["empty"], "umount", drop)
        until(lambda: joined(told) == ["good", "empty"], "it sees what it should", told)
        assert executor.places == 2
        assert max(len(texts) for texts in refused(told).values()) == 1
    assert left_over(tmp_path) == []


@needs_mounts
def test_a_probe_that_is_hidden_by_a_mount_is_laid_anew(
    settings: Settings, cluster: ClusterOfProcesses, tmp_path: Path
) -> None:
    """A share that is connected to the service's machine late does not have all workers refused for ever."""
    share = tmp_path / "share"
    share.mkdir()
    with opened(settings, cluster) as (_, told):
        cluster.start_workers(1, before=on_host("attic"))
        until(lambda: joined(told) == ["attic"], "the first", told)
        subprocess.run(["mount", "--bind", share, tmp_path / "out"], check=True)
        try:
            cluster.start_workers(1, before=on_host("cellar"))
            until(lambda: joined(told) == ["attic", "cellar"], "the second", told)
        finally:
            subprocess.run(["umount", "--lazy", tmp_path / "out"], check=True)


# What a worker has, and how it was started


def package_in(folder: Path, text: str) -> dict[str, str]:
    """Return an environment with another lanternslide."""
    (folder / "lanternslide").mkdir(parents=True)
    (folder / "lanternslide" / "__init__.py").write_text(text)
    return {"PYTHONPATH": str(folder)}


def library_in(folder: Path, name: str) -> dict[str, str]:
    """Return an environment where a library says that it has another version."""
    about = folder / f"{name}-0.0.7.dist-info"
    about.mkdir(parents=True)
    (about / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: 0.0.7\n")
    return {"PYTHONPATH": str(folder)}


def test_who_is_of_another_make_gets_no_work(settings: Settings, cluster: ClusterOfProcesses, tmp_path: Path) -> None:
    """Both versions are named, or how it should have been started; what waits is done by the first who is right."""
    older = package_in(tmp_path / "older", '__version__ = "0.0.1"\n')
    none = package_in(tmp_path / "none", "raise ModuleNotFoundError(\"No module named 'lanternslide'\")\n")
    library = library_in(tmp_path / "library", "numpy")
    with opened(settings, cluster) as (executor, told):
        waiting = executor.submit(order("double", 4))
        for environment in (older, none, library):
            cluster.start_workers(1, environment=environment)
        cluster.start_workers(1, "--nthreads", "2")
        cluster.start_workers(1, "--no-nanny")
        cluster.start_workers(1, memory="0")
        cluster.start_workers(1, memory="120MiB")
        cluster.start_workers(1, memory="140MiB")

        def texts() -> list[str]:
            return [text for said in refused(told).values() for text in said]

        until(lambda: len(texts()) >= 8, "all have looked", told)
        said = "\n".join(texts())
        assert f"has lanternslide 0.0.1, and this service {__version__};" in said
        assert "cannot load lanternslide (ModuleNotFoundError: No module named 'lanternslide')" in said
        assert "has numpy 0.0.7, and this service " in said
        assert said.count("Start it with one thread, a nanny and a memory limit") == 3
        assert "may take 120 MiB of memory, which leaves nothing for a picture" in said
        assert joined(told) == []
        assert not waiting.done()
        cluster.start_workers(1)
        assert waiting.result(PATIENCE).value == 8


def test_a_scheduler_of_another_make_gets_no_work(settings: Settings, tmp_path: Path) -> None:
    """Nothing is sent to it; once the right one runs there, all is done."""
    folder = tmp_path / "cluster"
    folder.mkdir()
    older = package_in(tmp_path / "older", '__version__ = "0.0.1"\n')
    none = package_in(tmp_path / "none", "raise ModuleNotFoundError(\"No module named 'lanternslide'\")\n")
    cluster = ClusterOfProcesses(folder)
    try:
        cluster.start_scheduler(older)
        with opened(settings, cluster) as (executor, told):
            waiting = executor.submit(order("double", 4))
            said = told.broken().said.text
            assert said.startswith(f"{cluster.executor} has lanternslide 0.0.1, and this service {__version__};")
            cluster.kill_scheduler()
            cluster.start_scheduler(none)
            until(lambda: "cannot load lanternslide" in str(told.all[-1]), "none at all", told)
            cluster.kill_scheduler()
            assert not waiting.done()
            cluster.start_scheduler()
            cluster.start_workers(1)
            assert waiting.result(PATIENCE).value == 8
            assert isinstance(told.all[-1], ExecutorMended)
    finally:
        cluster.close()


# Closing


@pytest.mark.parametrize("when", ["at work", "stopped before", "stopped at work", "away"])
def test_closing_never_waits_for_a_scheduler(settings: Settings, tmp_path: Path, when: str) -> None:
    """One that is gone, or hangs, and a share that hangs, keep nobody from closing in the time that there is for it."""
    folder = tmp_path / "cluster"
    folder.mkdir()
    (folder / "marks").mkdir()
    cluster = ClusterOfProcesses(folder)
    try:
        cluster.start_scheduler()
        if when == "stopped before":
            os.kill(cluster.scheduler, signal.SIGSTOP)
        told = Told()
        executor = Cluster(settings_for(settings, cluster.executor), LEDGER, told, MISBEHAVING)
        if when != "stopped before":
            cluster.start_workers(1, environment={"LANTERNSLIDE_HANGING": str(folder / "marks")})
            until(lambda: joined(told), "it has joined", told)
            executor.submit(order("hang_with_number", 1))
            until(lambda: list((folder / "marks").iterdir()), "it hangs", told)
        if when == "stopped at work":
            os.kill(cluster.scheduler, signal.SIGSTOP)
        elif when == "away":
            cluster.kill_scheduler()
            told.broken()
        else:
            time.sleep(1)
        started = time.monotonic()
        executor.close()
        assert time.monotonic() - started < 12
    finally:
        cluster.close()
    assert not [news for news in told.all if isinstance(news, ExecutorBroken)] or when == "away"
