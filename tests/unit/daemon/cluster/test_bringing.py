"""What becomes of runs that do not count, and of results on their way."""

from __future__ import annotations

from pathlib import Path

import pytest

from lanternslide.daemon.cluster import bringing
from lanternslide.daemon.cluster.bringing import Strays, bring, clear
from lanternslide.daemon.cluster.paths import run_path
from tests.support.orders import job_in


def test_what_a_lost_run_writes_late_goes(tmp_path: Path) -> None:
    """Whether its name was known before, or is heard only when it has ended; the run that counts is left alone."""
    job = job_in(tmp_path)
    names = {token: run_path(job.deliveries[0].temporary, token) for token in ("early", "late", "counts")}
    for path in names.values():
        path.touch()
    strays = Strays()
    strays.add("run 1", job, ["early"])
    strays.add("run 2", job, [])
    for task, tokens in strays.known():
        clear(task, tokens)
    assert [name for name, path in names.items() if path.exists()] == ["late", "counts"]

    strays.hear("run 2", "late")
    clear(strays.end("run 2", "late"), ["late"])

    assert [name for name, path in names.items() if path.exists()] == ["counts"]
    assert strays.end("run 2", "late") is None
    assert strays.end("run 3", "counts") is None


def test_strays_are_forgotten(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """What nobody has begun in minutes, and what was lost an hour ago."""
    strays = Strays()
    strays.add("begun", job_in(tmp_path), ["a"])
    strays.add("not begun", job_in(tmp_path), [])
    monkeypatch.setattr(bringing, "UNBEGUN_SECONDS", -1.0)
    assert len(strays.known()) == 1
    assert strays.end("not begun", "b") is None
    monkeypatch.setattr(bringing, "KEEP_SECONDS", -1.0)
    assert len(strays.known()) == 1  # once more, and then no more
    assert strays.known() == []


def test_what_did_not_arrive_changes_nothing(tmp_path: Path) -> None:
    """A survey brings nothing; of a job all has to be there."""
    job = job_in(tmp_path)
    assert bring(job, (), "token") is None
    assert bring(job, None, "token") is None
    assert bring("a task", ("value",), "token") is None
