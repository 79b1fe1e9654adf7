"""A cluster as its owner meets it: the demo's pictures, `check`, and a config that is read again."""

from __future__ import annotations

import json
import shutil
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.support.cluster import ClusterOfProcesses
from tests.support.pictures import save_jpeg
from tests.support.service import PLAIN, Home, make_home, run, sweep, watching

pytestmark = pytest.mark.timeout(600)

ROOT = Path(__file__).resolve().parents[2]
VARYING = ("seconds", "peak_mib", "delivered_at")
"""What a record says of the making, not of the picture."""


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ClusterOfProcesses]:
    """Run a scheduler and two workers."""
    running = ClusterOfProcesses(tmp_path_factory.mktemp("cluster"))
    running.start_scheduler()
    running.start_workers(2, memory="3GiB")
    running.wait_for_workers(2)
    yield running
    running.close()


def demo(root: Path, executor: str) -> tuple[Home, dict[str, bytes], list[dict[str, Any]]]:
    """Sweep a copy of the demo; return its home, all that it has written for people, and the records."""
    root.mkdir()
    (root / "config").mkdir()
    (root / "demo_out").mkdir()
    shutil.copytree(ROOT / "demo_inbox", root / "demo_inbox")
    text = (ROOT / "config" / "demo.toml").read_text("utf-8")
    home = Home(root / "config")
    home.config.write_text(text.replace("[service]\n", f'[service]\nexecutor = "{executor}"\n', 1), "utf-8")
    assert sweep(home).status == 1
    pictures = [path for path in (root / "demo_out").rglob("*.jpg") if "state" not in path.parts]
    written = {str(path.relative_to(root)): path.read_bytes() for path in pictures}
    records = [json.loads(line) for line in run(home, "history", "--json").output.splitlines()]
    for record in records:
        for name in VARYING:
            record.pop(name, None)
        record["output"] = str(record.get("output")).replace(str(root), "")
    return home, written, sorted(records, key=str)


def test_the_demo_on_a_cluster(tmp_path: Path, cluster: ClusterOfProcesses) -> None:
    """TIFF, PNG, four destinations, proof sheets' pictures, what is measured and doubted: as one machine does it."""
    _, alone, records = demo(tmp_path / "alone", "local")

    _, written, told = demo(tmp_path / "together", cluster.executor)

    assert written == alone
    assert told == records
    assert len(records) > 8
    assert not list(tmp_path.rglob(".lanternslide-*"))


def test_check_says_who_is_there(tmp_path: Path, cluster: ClusterOfProcesses) -> None:
    """A scheduler that answers, with its workers; and one that does not."""
    (tmp_path / "fine").mkdir()
    (tmp_path / "away").mkdir()
    fine = make_home(tmp_path / "fine", with_executor(cluster.executor))
    away = make_home(tmp_path / "away", with_executor("dask://127.0.0.1:1"))

    there, gone = run(fine, "check"), run(away, "check")

    assert there.status == 0
    assert "2 workers are there: 2 on 127.0.0.1" in " ".join(there.output.split())
    assert gone.status == 3
    assert "The scheduler dask://127.0.0.1:1 does not answer" in " ".join(gone.output.split())


def test_a_sweep_without_a_scheduler_ends_and_loses_nothing(tmp_path: Path, cluster: ClusterOfProcesses) -> None:
    """It says what is in the way; once the scheduler is there, the next sweep does all."""
    home = make_home(tmp_path, with_executor("dask://127.0.0.1:1"))
    save_jpeg(home.drop() / "stack.jpg", 600, 400)

    without = sweep(home)
    home.config.write_text(with_executor(cluster.executor))
    done = sweep(home)

    assert without.status == 3
    assert "does not answer" in without.errors
    assert (done.status, len(home.delivered())) == (0, 2)


def test_the_executor_cannot_change_while_the_service_runs(tmp_path: Path, cluster: ClusterOfProcesses) -> None:
    """A config that is read again and names another is refused, and the work goes on as before."""
    home = make_home(tmp_path, with_executor(cluster.executor))
    with watching(home) as service:
        service.until(lambda: [e for e in service.events() if e["event"] == "worker joined"], "a worker joins")
        home.config.write_text(with_executor("local"))
        service.process.send_signal(signal.SIGHUP)
        service.until(lambda: [e for e in service.events() if e["event"] == "config refused"], "it is refused")
        save_jpeg(home.drop() / "stack.jpg", 600, 400)
        service.until_told("delivered", 2)
        assert service.stop() == 0
    refused = next(event for event in service.events() if event["event"] == "config refused")
    assert "service.executor: This key cannot change while the service runs" in refused["detail"]


def with_executor(executor: str) -> str:
    """Return a config with this executor."""
    return PLAIN.replace("workers = 2", f'workers = 2\nlog = "json"\nexecutor = "{executor}"')
