"""Whom a cluster's work is trusted to: workers that see other folders, have other versions, or were started otherwise.

Real schedulers and workers. A worker with another view of the folders runs in mounts of its own, under another host's
name.
"""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import psutil
import pytest
from PIL import Image

from lanternslide import __version__
from lanternslide.config import Settings
from lanternslide.config.settings import Cluster as ClusterKeys
from lanternslide.errors import PassingFaultError
from lanternslide.records import DeliveryTask, Fingerprint, Job, Recipe, Sharpening, SizeRule
from lanternslide.records.events import WorkerJoined, WorkerRefused
from lanternslide.workers.cluster import Cluster
from lanternslide.workers.executor import ExecutorBroken, ExecutorMended
from tests.support.cluster import ROOT, ClusterOfProcesses, settings_for
from tests.support.executors import MISBEHAVING, PATIENCE, Told, failure_of, order, settings_in, value_of
from tests.support.pictures import save_jpeg, size_of
from tests.support.service import PLAIN, Home, Watching, make_home, sweep, watching

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


def is_asked(port: int) -> bool:
    """Return whether this process is connected, or about to be, to a port."""
    return any(found.raddr and found.raddr.port == port for found in psutil.Process().net_connections("tcp"))


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
        assert executor.slots == 1
        for host in ("empty", "otherwise"):
            assert said[host].startswith(f"The worker on {host} does not see {drop}/journal/a.jpg as this service does")
        assert "other content" in said["otherwise"]
        assert said["locked"].startswith(f"The worker on locked cannot read or write the folder {out} (")
        assert said["nowhere"].startswith(f"The worker on nowhere cannot read or write the folder {out} (")
        assert said["elsewhere"].startswith(f"What the worker on elsewhere writes into {out} does not arrive here")
        pids = {value_of(executor.submit(order("pid", number)).result(PATIENCE)) for number in range(4)}
        assert len(pids) == 1
        on_its_host(workers["empty"], "umount", drop)
        until(lambda: joined(told) == ["good", "empty"], "it sees what it should", told)
        assert executor.slots == 2
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

        expected = {
            f"has lanternslide 0.0.1, this service has {__version__}, so pictures": 1,
            "cannot load lanternslide (ModuleNotFoundError: No module named 'lanternslide')": 1,
            "has numpy 0.0.7, this service has ": 1,
            "Start it with one thread, a nanny and a memory limit": 3,
            "may use 120 MiB of memory, which is too little for any picture": 1,
        }

        def all_told() -> bool:
            said = "\n".join(text for texts in refused(told).values() for text in texts)
            # One that is asked while it starts may not answer at first; it is asked again.
            return all(said.count(text) >= times for text, times in expected.items())

        until(all_told, "the reasons are told", told)
        assert joined(told) == []
        assert not waiting.done()
        cluster.start_workers(1)
        assert value_of(waiting.result(PATIENCE)) == 8


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
            assert said.startswith(
                f"{cluster.executor} has lanternslide 0.0.1, this service has {__version__}, so pictures"
            )
            cluster.kill_scheduler()
            cluster.start_scheduler(none)
            until(lambda: "cannot load lanternslide" in str(told.all[-1]), "none at all", told)
            cluster.kill_scheduler()
            assert not waiting.done()
            cluster.start_scheduler()
            cluster.start_workers(1)
            assert value_of(waiting.result(PATIENCE)) == 8
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
            until(lambda: is_asked(cluster.port), "it asks the scheduler, which stands still", told)
        started = time.monotonic()
        executor.close()
        assert time.monotonic() - started < 12
    finally:
        cluster.close()
    assert not [news for news in told.all if isinstance(news, ExecutorBroken)] or when == "away"


# What is done twice


def test_a_run_that_was_thought_to_be_lost_changes_nothing(settings: Settings, tmp_path: Path) -> None:
    """A worker is stopped until the scheduler has given it up, and goes on when another has done its order."""
    folder, marks, out = tmp_path / "cluster", tmp_path / "marks", tmp_path / "out"
    folder.mkdir()
    marks.mkdir()
    temporary = out / f".lanternslide-{LEDGER}-7.part"
    size = SizeRule(rule="long_edge", values=(100,))
    recipe = Recipe(size=size, sharpening=Sharpening(), quality=80, chroma="4:2:0", progressive=True)
    delivery = DeliveryTask(delivery=7, destination="club", density=1.0, recipe=recipe, temporary=temporary)
    original = save_jpeg(tmp_path / "drop" / "a.jpg", 60, 40)
    job = Job(
        original=1, photographer="ida", root=original.parent, path=original,
        fingerprint=Fingerprint.of(original.lstat()), survey=None, deliveries=(delivery,),  # type: ignore[arg-type]
    )  # fmt: skip
    cluster = ClusterOfProcesses(folder)
    try:
        cluster.start_scheduler({"DASK_DISTRIBUTED__SCHEDULER__WORKER_TTL": "3s"})
        first = cluster.start_workers(1, environment={"LANTERNSLIDE_HANGING": str(marks)})
        with opened(settings, cluster) as (executor, told):
            given = executor.submit(order("write_slowly", job, called="a"))
            until(lambda: left_over(out) and list(marks.glob("wrote *")), "it has begun", told)
            (stopped,) = cluster.processes()
            os.killpg(first.pid, signal.SIGSTOP)
            cluster.start_workers(1, environment={"LANTERNSLIDE_HANGING": str(marks)})
            assert "its worker was lost" in failure_of(given.result(PATIENCE))
            again = executor.submit(order("write_slowly", job, called="a")).result(PATIENCE)
            assert not failure_of(again)
            data = temporary.read_bytes()
            assert value_of(again).outcomes[0].bytes == len(data)
            assert not (marks / f"written {stopped}").exists()
            os.kill(stopped, signal.SIGCONT)
            until((marks / f"written {stopped}").exists, "it goes on", told)
            until(lambda: set(left_over(out)) == {temporary, *probes(out)}, "what it has written goes", told)
            assert temporary.read_bytes() == data
            assert str(stopped).encode() not in data
        assert left_over(out) == [temporary]
    finally:
        cluster.close()


def probes(folder: Path) -> list[Path]:
    """Return the probes that lie there."""
    return [path for path in left_over(folder) if path.name.endswith("-probe.part")]


# Memory


def test_what_is_large_goes_where_it_fits(settings: Settings, cluster: ClusterOfProcesses) -> None:
    """It waits for the large worker alone, and the small ones go on meanwhile."""
    cluster.start_workers(2, memory="600MiB")
    with opened(settings, cluster) as (executor, told):
        until(lambda: executor.slots == 2, "the small ones", told)
        small = set(cluster.processes())
        with pytest.raises(PassingFaultError, match=r"needs about 1\.0 GiB of memory, and the largest worker"):
            executor.admission.check(1024)
        assert not executor.admission.fits(1024)
        large = executor.submit(order("pid", "large", need_mib=1000))
        cluster.start_workers(1)
        until(lambda: executor.slots == 3, "the large one", told)
        assert executor.admission.fits(1024)
        answers = [executor.submit(order("pid", number)) for number in range(30)]
        more = [executor.submit(order("pid", f"large {number}", need_mib=1000)) for number in range(3)]
        found = {value_of(answer.result(PATIENCE)) for answer in answers}
        assert small <= found
        assert {value_of(answer.result(PATIENCE)) for answer in (large, *more)} == set(cluster.processes()) - small


CONFIG = (
    PLAIN
    + """
[destinations.club.watermark]
image = "marks/mark.png"
opacity = 0.5
"""
)


def home_in(folder: Path, cluster: ClusterOfProcesses | None, more: str = "") -> Home:
    """Return a home whose work is done by a cluster, or by one machine."""
    folder.mkdir()
    config = CONFIG + more
    if cluster is not None:
        config = config.replace("[service]", f'[service]\nexecutor = "{cluster.executor}"')
    home = make_home(folder, config)
    (folder / "marks").mkdir()
    Image.new("RGBA", (40, 20), (200, 30, 60, 200)).save(folder / "marks" / "mark.png")
    return home


def fill(home: Home, names: Iterable[str]) -> None:
    """Put originals into the drop folder."""
    for number, name in enumerate(names):
        path = home.drop() / name
        path.parent.mkdir(exist_ok=True)
        save_jpeg(path, 640, 420, seed=number)


def events_of(service: Watching, name: str) -> list[dict[str, Any]]:
    """Return the events called *name* so far."""
    return [event for event in service.events() if event["event"] == name]


def test_what_is_too_large_for_all_is_made_when_a_larger_worker_joins(
    cluster: ClusterOfProcesses, tmp_path: Path
) -> None:
    """It rests with a sentence, costs no attempt, and is not held."""
    cluster.start_workers(1, memory="600MiB")
    home = home_in(tmp_path / "home", cluster)
    with watching(home) as service:
        service.until(lambda: events_of(service, "worker joined"), "the small worker")
        Image.new("RGB", (9000, 6000), (90, 120, 200)).save(home.root / "large.jpg", progressive=True)
        (home.root / "large.jpg").rename(home.drop() / "large@club.jpg")
        fill(home, ["small@club.jpg"])
        service.until(lambda: events_of(service, "waits"), "it rests")
        service.until(home.out("club", "small.jpg").exists, "the small one")
        (rests,) = events_of(service, "waits")
        assert rests["key"] == "no-worker-large-enough"
        assert not home.out("club", "large.jpg").exists()
        cluster.start_workers(1)
        service.until(home.out("club", "large.jpg").exists, "the large one")
        assert not [event for event in service.events() if event["event"] in ("held", "attempt failed")]
        assert service.stop() == 0


# Paths, shares that go, another config


NAMES = ("a@club.jpg", "b@journal.jpg", "journal/c.jpg", "d.jpg")


@needs_mounts
def test_a_worker_that_calls_folders_otherwise_makes_the_same(cluster: ClusterOfProcesses, tmp_path: Path) -> None:
    """It sees nothing under the service's own paths; the longest folder that fits counts; a mark is found."""
    alone = home_in(tmp_path / "alone", None)
    view = tmp_path / "view"
    home = home_in(
        tmp_path / "home", cluster,
        "[cluster.paths.attic]\n"
        + "".join(f'"HOME/{here}" = "{view}/{there}"\n' for here, there in (
            ("drop", "in"), ("out", "to"), ("out/club", "club"), ("marks", "m"))),
    )  # fmt: skip
    home.config.write_text(home.config.read_text().replace("HOME", str(home.root)))
    home.out("club").mkdir()
    for name in ("in", "to", "club", "m"):
        (view / name).mkdir(parents=True)
    script = "\n".join(
        [*(f"mount --bind {home.root}/{here} {view}/{there}" for here, there in (
            ("drop", "in"), ("out", "to"), ("out/club", "club"), ("marks", "m"))),
         f"mount -t tmpfs none {view}/to/club", f"mount -t tmpfs none {home.root}"]
    )  # fmt: skip
    cluster.start_workers(1, before=on_host("attic", script))
    for one in (alone, home):
        fill(one, NAMES)
        (one.drop() / "cut.jpg").write_bytes((one.drop() / "d.jpg").read_bytes()[:3000])
    expected, done = sweep(alone), sweep(home)

    assert done.status == expected.status == 1, done.errors
    assert alone.delivered() == home.delivered()
    assert len(home.delivered()) == 5
    assert done.held() == expected.held()
    assert str(view) not in done.errors
    assert left_over(home.root) == []


@needs_mounts
def test_a_worker_that_loses_its_share_costs_nothing(cluster: ClusterOfProcesses, tmp_path: Path) -> None:
    """Originals that it does not see, or files that do not arrive: others do it, and it waits until it sees again."""
    home = home_in(tmp_path / "home", cluster)
    home.out("club").mkdir()
    (home.drop() / "club").mkdir()
    attic = cluster.start_workers(1, before=on_host("attic"))
    cluster.start_workers(1, before=on_host("cellar"))

    def count(event: str, host: str) -> int:
        return len([found for found in events_of(service, event) if found["host"] == host])

    with watching(home) as service:
        service.until(lambda: count("worker joined", "attic") and count("worker joined", "cellar"), "both")
        for number, lost in enumerate((home.drop(), home.out("club")), 1):
            on_its_host(attic, "mount", "-t", "tmpfs", "none", lost)
            names = [f"{number}{letter}" for letter in "abcdefgh"]
            fill(home, [f"club/{name}.jpg" for name in names])
            service.until(lambda number=number: count("worker refused", "attic") == number, "the loss")  # type: ignore[misc]
            service.until(
                lambda names=names: all(home.out("club", f"{name}.jpg").exists() for name in names),  # type: ignore[misc]
                "all",
            )
            assert str(lost) in events_of(service, "worker refused")[-1]["reason"]
            time.sleep(6)  # it was asked again
            assert count("worker joined", "attic") == number
            on_its_host(attic, "umount", lost)
            service.until(lambda number=number: count("worker joined", "attic") == number + 1, "it is back")  # type: ignore[misc]
        assert not [event for event in service.events() if event["event"] in ("held", "attempt failed")]
        assert len(events_of(service, "delivered")) == 16
        assert service.stop() == 0
    assert left_over(home.root) == []


def test_a_service_that_is_killed_leaves_no_probe_for_long(cluster: ClusterOfProcesses, tmp_path: Path) -> None:
    """The next start takes them away, also where a folder was made meanwhile; another config does, too."""
    cluster.start_workers(2)
    home = home_in(tmp_path / "home", cluster)
    with watching(home) as service:
        service.until(lambda: len(events_of(service, "worker joined")) == 2, "the workers")
        assert [path.parent for path in probes(home.root)] == [home.out()]
        service.kill()
    assert probes(home.root)
    names = [f"{number:02d}.jpg" for number in range(30)]
    with watching(home, log="again.log") as service:
        fill(home, names)
        service.until(lambda: len(events_of(service, "delivered")) >= 8, "some")
        config = home.config.read_text()
        config = config.replace("out/{photographer}/journal", "other/journal").replace("1600", "200")
        home.config.write_text(config)
        (home.root / "other").mkdir()
        service.process.send_signal(signal.SIGHUP)
        service.until(lambda: events_of(service, "config read again"), "the new config")
        service.until(lambda: len(events_of(service, "delivered")) >= 60, "all")
        service.until(lambda: events_of(service, "batch done"), "the end")
        assert service.stop() == 0
        outputs = [event["output"] for event in events_of(service, "delivered")]
        assert not [event for event in service.events() if event["event"] in ("held", "attempt failed")]
    assert len(outputs) == len(set(outputs)) == 60
    old, new = list(home.out("ida", "journal").glob("*")), list((home.root / "other" / "journal").glob("*"))
    assert sorted(path.name for path in (*old, *new)) == names
    assert new
    assert {size_of(path)[0] for path in new} == {200}
    assert {size_of(path)[0] for path in old} <= {640}
    assert left_over(home.root) == []


# Keys


@pytest.fixture(scope="module")
def authorities(tmp_path_factory: pytest.TempPathFactory) -> tuple[ClusterKeys, ClusterKeys]:
    """Make two authorities, each with a key for this machine."""
    if not shutil.which("openssl"):
        pytest.skip("openssl is not there")
    return keys_in(tmp_path_factory.mktemp("ours")), keys_in(tmp_path_factory.mktemp("theirs"))


def keys_in(folder: Path) -> ClusterKeys:
    """Make an authority and a key that it has signed."""

    def openssl(*words: str) -> None:
        subprocess.run(["openssl", *words], cwd=folder, check=True, capture_output=True)

    new = ("req", "-newkey", "rsa:2048", "-nodes")
    openssl(*new, "-x509", "-keyout", "ca.key", "-out", "ca.pem", "-subj", "/CN=authority", "-days", "2")
    openssl(*new, "-keyout", "node.key", "-out", "node.csr", "-subj", "/CN=node")
    openssl(
        "x509", "-req", "-in", "node.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial",
        "-out", "node.pem", "-days", "2",
    )  # fmt: skip
    return ClusterKeys.model_construct(
        paths={}, tls_ca=folder / "ca.pem", tls_cert=folder / "node.pem", tls_key=folder / "node.key"
    )


def test_a_scheduler_with_keys(
    settings: Settings, tmp_path: Path, authorities: tuple[ClusterKeys, ClusterKeys]
) -> None:
    """With the right ones work is done; with those of another authority it is said that they are not."""
    ours, theirs = authorities
    folder = tmp_path / "cluster"
    folder.mkdir()
    options = ("--tls-ca-file", str(ours.tls_ca), "--tls-cert", str(ours.tls_cert), "--tls-key", str(ours.tls_key))
    cluster = ClusterOfProcesses(folder, options, "tls")
    try:
        cluster.start_scheduler()
        cluster.start_workers(1)
        with opened(settings, cluster, ours) as (executor, told):
            assert value_of(executor.submit(order("double", 4)).result(PATIENCE)) == 8
            assert not [news for news in told.all if isinstance(news, ExecutorBroken)]
        with opened(settings, cluster, theirs) as (executor, told):
            executor.submit(order("double", 4))
            said = told.broken().said
            assert said.key == "scheduler-away"
            assert "certificate" in said.text.lower()
            assert "has the right keys" in said.text
    finally:
        cluster.close()


def test_nothing_is_ever_sent_unencrypted_where_keys_are_asked_for(
    settings: Settings, authorities: tuple[ClusterKeys, ClusterKeys], tmp_path: Path
) -> None:
    """Whoever listens there hears the beginning of a TLS handshake (RFC 8446, 5.1: type 22), and nothing else."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()
        listening.settimeout(PATIENCE)
        cluster = ClusterOfProcesses(tmp_path, scheme="tls")
        cluster.port = listening.getsockname()[1]
        with opened(settings, cluster, authorities[0]) as (executor, _):
            executor.submit(order("double", 4))
            connection, _ = listening.accept()
            with connection:
                connection.settimeout(3)
                heard = connection.recv(1 << 16)
                with suppress(TimeoutError):
                    while more := connection.recv(1 << 16):
                        heard += more
    assert heard[:2] == b"\x16\x03"
    assert int.from_bytes(heard[3:5], "big") + 5 == len(heard)


# Without the engine


BLOCK = """
import atexit, os, sys
class Nobody:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in ("dask", "distributed"):
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
sys.meta_path.insert(0, Nobody())
def note():
    with open(os.environ["LOADED"], "a") as stream:
        stream.write(" ".join({"dask", "distributed"} & {name.partition(".")[0] for name in sys.modules}) + "\\n")
atexit.register(note)
"""


def test_one_machine_alone_needs_no_engine(tmp_path: Path) -> None:
    """A sweep, with all its processes, where nothing of the engine can be loaded."""
    (tmp_path / "block").mkdir()
    (tmp_path / "block" / "sitecustomize.py").write_text(BLOCK)
    loaded = tmp_path / "loaded"
    environment = {
        **os.environ, "PYTHONPATH": f"{tmp_path / 'block'}{os.pathsep}{ROOT / 'service'}", "LOADED": str(loaded),
    }  # fmt: skip
    home = home_in(tmp_path / "home", None)
    fill(home, NAMES)
    command = [sys.executable, "-m", "lanternslide", "--config", str(home.config), "sweep"]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False, timeout=PATIENCE)
    assert done.returncode == 0, done.stderr
    assert len(home.delivered()) == 5
    assert set(loaded.read_text().split("\n")) == {""}
