"""What becomes of runs that do not count, and of results on their way."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.records import Changed, Job, JobDone, Made, SurveyTask
from lanternslide.workers.cluster import collecting
from lanternslide.workers.cluster.collecting import OrphanRuns, bring, clear, clear_every_run
from lanternslide.workers.cluster.paths import run_path
from tests.support.household import FIGURES
from tests.support.orders import SEEN, job_in

SURVEY = SurveyTask(root=Path("/in"), path=Path("/in/a.jpg"), fingerprint=SEEN, max_megapixels=1)
"""A task that writes nothing."""


def test_what_a_lost_run_writes_late_goes(tmp_path: Path) -> None:
    """Whether its name was known before, or is heard only when it has ended; the run that counts is left alone."""
    job = job_in(tmp_path)
    names = {token: run_path(job.deliveries[0].temporary, token) for token in ("early", "late", "counts")}
    for path in names.values():
        path.touch()
    orphans = OrphanRuns()
    orphans.add("run 1", job, ["early"])
    orphans.add("run 2", job, [])
    for task, tokens in orphans.known():
        clear(task, tokens)
    assert [name for name, path in names.items() if path.exists()] == ["late", "counts"]

    orphans.hear("run 2", "late")
    ended = orphans.end("run 2", "late")
    assert ended is not None
    clear(ended, ["late"])

    assert [name for name, path in names.items() if path.exists()] == ["counts"]
    assert orphans.end("run 2", "late") is None
    assert orphans.end("run 3", "counts") is None


def test_orphans_are_forgotten(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """What nobody has begun in minutes, and what was lost an hour ago."""
    orphans = OrphanRuns()
    orphans.add("begun", job_in(tmp_path), ["a"])
    orphans.add("not begun", job_in(tmp_path), [])
    monkeypatch.setattr(collecting, "UNBEGUN_SECONDS", -1.0)
    assert len(orphans.known()) == 1
    assert orphans.end("not begun", "b") is None
    monkeypatch.setattr(collecting, "KEEP_SECONDS", -1.0)
    assert len(orphans.known()) == 1  # once more, and then no more
    assert orphans.known() == []


def two_in(folder: Path) -> Job:
    """Return a job with two deliveries."""
    job = job_in(folder)
    (first,) = job.deliveries
    second = replace(first, delivery=8, temporary=folder / ".lanternslide-x-8.part")
    return replace(job, deliveries=(first, second))


def made(*numbers: int) -> JobDone:
    """Return what a worker tells of deliveries of seven bytes each."""
    return JobDone(
        outcomes=tuple(Made(delivery=number, bytes=7, digest="", figures=FIGURES, findings=()) for number in numbers)
    )


def names_in(folder: Path) -> list[str]:
    """Return what lies in a folder."""
    return sorted(path.name for path in folder.iterdir())


def test_what_the_run_that_counts_has_made_gets_the_names_of_its_task(tmp_path: Path) -> None:
    """All of it; a delivery that was not made is not waited for."""
    job = two_in(tmp_path)
    for delivery in job.deliveries:
        run_path(delivery.temporary, "token").write_bytes(b"a photo")
    run_path(job.deliveries[0].temporary, "other").write_bytes(b"another")

    assert bring(job, made(7, 8), "token") is None
    assert names_in(tmp_path) == [".lanternslide-x-7-other.part", ".lanternslide-x-7.part", ".lanternslide-x-8.part"]
    run_path(job.deliveries[0].temporary, "later").write_bytes(b"a photo")
    assert bring(job, made(7), "later") is None
    assert ".lanternslide-x-7-later.part" not in names_in(tmp_path)


@pytest.mark.parametrize("second", [None, b"a part", b"too long a file"], ids=["missing", "shorter", "longer"])
def test_of_a_job_all_has_to_be_there(tmp_path: Path, second: bytes | None) -> None:
    """Where one file is missing, or has another size, nothing is renamed and its folder is named."""
    job = two_in(tmp_path)
    run_path(job.deliveries[0].temporary, "token").write_bytes(b"a photo")
    if second is not None:
        run_path(job.deliveries[1].temporary, "token").write_bytes(second)
    before = names_in(tmp_path)

    assert bring(job, made(7, 8), "token") == tmp_path
    assert names_in(tmp_path) == before


def test_what_makes_no_file_brings_none(tmp_path: Path) -> None:
    """A survey, a refusal, a task of another kind."""
    job = job_in(tmp_path)
    assert bring(job, made(), "token") is None
    assert bring(job, Changed(), "token") is None
    assert bring(SURVEY, made(7), "token") is None


def test_in_the_end_every_run_is_cleared_away(tmp_path: Path) -> None:
    """Also one that nobody has heard of; what was brought already, and files of other deliveries, are left alone."""
    job, orphans = job_in(tmp_path), OrphanRuns()
    orphans.add("run 1", job, [])
    run_path(job.deliveries[0].temporary, "unheard").touch()
    for name in (".lanternslide-x-7.part", ".lanternslide-x-71-token.part", "a.jpg"):
        (tmp_path / name).touch()

    for task in (*orphans.tasks(), SURVEY):
        clear_every_run(task)

    assert names_in(tmp_path) == [".lanternslide-x-7.part", ".lanternslide-x-71-token.part", "a.jpg"]
    clear_every_run(job_in(tmp_path / "away"))
