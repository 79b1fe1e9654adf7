"""What paths are called on another machine, and what becomes of runs that do not count: the parts that ask nobody."""

from __future__ import annotations

import asyncio
import threading
import time
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from lanternslide.config import load_settings
from lanternslide.daemon.cluster import bringing
from lanternslide.daemon.cluster.aside import aside
from lanternslide.daemon.cluster.berths import Berths
from lanternslide.daemon.cluster.bringing import Strays, bring, clear
from lanternslide.daemon.cluster.ground import Ground
from lanternslide.daemon.cluster.paths import PathMap, run_path, task_there
from lanternslide.errors import PassingFaultError
from lanternslide.records import (
    DeliveryTask,
    Fingerprint,
    Job,
    Mark,
    Recipe,
    Refused,
    Sharpening,
    SizeRule,
    Stalled,
    SurveyTask,
)
from lanternslide.words import Passing, Said, say

TABLE = {"/srv/photos": "/mnt/photos", "/srv/photos/out/club": "/mnt/club", "/srv/marks": "/m"}
ATTIC = PathMap.for_host("attic", {"attic": TABLE})
RECIPE = Recipe(
    size=SizeRule(rule="long_edge", values=(100,)), sharpening=Sharpening(), quality=80, chroma="4:2:0",
    progressive=True, mark=Mark(image="/srv/marks/mark.png", font="/srv/marks/mark.ttf"),
)  # fmt: skip
FILE = Fingerprint(size=1, mtime_ns=2, inode=3)


def test_the_longest_folder_that_fits_counts() -> None:
    """What fits none is called alike, and a name that only begins alike is another."""
    assert ATTIC.there(Path("/srv/photos/out/club/a.jpg")) == Path("/mnt/club/a.jpg")
    assert ATTIC.there(Path("/srv/photos/out/journal/a.jpg")) == Path("/mnt/photos/out/journal/a.jpg")
    assert ATTIC.there(Path("/srv/photos")) == Path("/mnt/photos")
    assert ATTIC.there(Path("/srv/photos2/a.jpg")) == Path("/srv/photos2/a.jpg")


def test_a_host_is_found_by_its_whole_name_or_its_first_part() -> None:
    """The whole name goes first; a host that nobody has named sees paths as they are."""
    paths = {"attic.example": {"/a": "/b"}, "attic": {"/a": "/c"}}

    assert PathMap.for_host("attic.example", paths).there(Path("/a/x")) == Path("/b/x")
    assert PathMap.for_host("attic.elsewhere", paths).there(Path("/a/x")) == Path("/c/x")
    assert PathMap.for_host("cellar", paths).there(Path("/a/x")) == Path("/a/x")


def test_a_task_goes_over_with_the_paths_of_the_worker() -> None:
    """Originals, temporary names, proofs, marks and fonts; each run writes under a name of its own."""
    survey = SurveyTask(
        root=Path("/srv/photos/in"), path=Path("/srv/photos/in/x/a.jpg"), fingerprint=FILE, max_megapixels=1,
        wanted=((RECIPE, 1.0),),
    )  # fmt: skip
    delivery = SimpleNamespace()
    there = task_there(survey, ATTIC, "ab")
    assert isinstance(there, SurveyTask)
    assert (there.root, there.path) == (Path("/mnt/photos/in"), Path("/mnt/photos/in/x/a.jpg"))
    assert there.wanted[0][0].mark == replace(RECIPE.mark or Mark(), image="/m/mark.png", font="/m/mark.ttf")
    assert task_there(delivery, ATTIC, "ab") is delivery
    made = task_there(job_in(Path("/srv/photos/out/club"), Path("/srv/photos/proofs")), ATTIC, "ab")
    assert isinstance(made, Job)
    assert made.deliveries[0].temporary == Path("/mnt/club/.lanternslide-x-7-ab.part")
    assert made.deliveries[0].proofs == Path("/mnt/photos/proofs")


def job_in(folder: Path, proofs: Path | None = None) -> Job:
    """Return a job whose delivery goes into *folder*."""
    delivery = DeliveryTask(
        delivery=7, destination="club", density=1.0, recipe=RECIPE, temporary=folder / ".lanternslide-x-7.part",
        proofs=proofs,
    )  # fmt: skip
    return Job(
        original=1, photographer="ida", root=Path("/srv/photos/in"), path=Path("/srv/photos/in/a.jpg"),
        fingerprint=FILE, survey=None, deliveries=(delivery,),  # type: ignore[arg-type]
    )  # fmt: skip


@pytest.mark.parametrize(
    ("there", "here"),
    [
        ("The folder /mnt/club is full.", "The folder /srv/photos/out/club is full."),
        ("See /mnt/photos/out/a.jpg (away)", "See /srv/photos/out/a.jpg (away)"),
        ("“/m/mark.png”", "“/srv/marks/mark.png”"),
        ("/mnt/photos2/a.jpg and /mnt/club-old", "/mnt/photos2/a.jpg and /mnt/club-old"),
        ("/home/m/a.jpg and /home/mnt/club", "/home/m/a.jpg and /home/mnt/club"),
        ("/mnt/photos.", "/srv/photos."),
    ],
)
def test_a_sentence_comes_back_with_the_paths_of_the_service(there: str, here: str) -> None:
    """Whole paths alone: not the middle of another path, not the beginning of a longer name."""
    outcomes = (Stalled(said=Said(key="k", text=there), delivery=1), Refused(said=Said(key="k", text=there)))
    back = ATTIC.outcome_back(outcomes)

    assert back == (Stalled(said=Said(key="k", text=here), delivery=1), Refused(said=Said(key="k", text=here)))


def test_what_was_put_back_is_not_taken_for_another_folder() -> None:
    """Folders that swap their names swap them once."""
    swapped = PathMap.for_host("attic", {"attic": {"/a": "/b", "/b": "/a"}})

    assert swapped.back(Said(key="k", text="/a/x and /b/y")).text == "/b/x and /a/y"


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


def test_what_hangs_keeps_nobody(tmp_path: Path) -> None:
    """A thread that never ends neither keeps the loop from closing nor the process."""
    never = threading.Event()

    async def wait() -> None:
        with pytest.raises(asyncio.TimeoutError):
            await asyncio.wait_for(aside(never.wait), 0.1)
        assert await aside(lambda: 3) == 3
        with pytest.raises(FileNotFoundError):
            await aside((tmp_path / "none").read_bytes)

    started = time.monotonic()
    asyncio.run(wait())
    assert time.monotonic() - started < 10
    never.set()


def ground_of(folder: Path) -> Ground:
    """Return the ground for one destination and one drop folder."""
    return Ground(written=((folder / "out", folder),), read=(folder / "drop",), ledger="0123456789ab")


def temporaries(folder: Path) -> list[Path]:
    """Return what is left of probes and answers."""
    return sorted(folder.rglob(".lanternslide-*"))


def test_a_probe_that_has_gone_is_laid_anew(tmp_path: Path) -> None:
    """A share that was connected over it, or a tidy owner: workers are not refused for ever because of that."""
    (tmp_path / "out").mkdir()
    ground = ground_of(tmp_path)
    ground.lay()
    (probe,) = temporaries(tmp_path)
    probe.unlink()
    ground.lay()

    assert temporaries(tmp_path) == [probe]
    ground.clear()
    assert temporaries(tmp_path) == []


def test_no_probe_is_left_where_a_folder_was_to_be_made(tmp_path: Path) -> None:
    """A service that was killed has left it in the folder around; the next one sweeps that too."""
    killed = ground_of(tmp_path)
    killed.lay()
    assert [path.parent for path in temporaries(tmp_path)] == [tmp_path]
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / ".lanternslide-0123456789ab-12345678-87654321-answer.part").touch()
    (tmp_path / "out" / ".lanternslide-0123456789ab-12345678-5.part").touch()
    ground = ground_of(tmp_path)
    ground.lay()
    ground.clear()

    assert [path.name for path in temporaries(tmp_path)] == [".lanternslide-0123456789ab-12345678-5.part"]


def test_a_folder_of_each_photographer_is_tried_where_it_will_be_made(tmp_path: Path) -> None:
    """Before anything is delivered there is only the folder around all of them."""
    config = tmp_path / "lanternslide.toml"
    config.write_text(
        '[photographers.ida]\ndrop = "drop"\n'
        '[destinations.club]\nfolder = "out/{photographer}/club"\nsize = { long_edge = 100 }\n'
    )
    for name in ("drop", "out"):
        (tmp_path / name).mkdir()
    for folder in ("out", "out/ida", "out/ida/club"):
        (tmp_path / folder).mkdir(exist_ok=True)
        ground = Ground.of(load_settings(config), "0123456789ab")
        ground.lay()
        assert [path.parent for path in temporaries(tmp_path)] == [tmp_path / folder]
        ground.clear()
    assert temporaries(tmp_path) == []


def test_nothing_is_laid_once_it_is_over(tmp_path: Path) -> None:
    """A look that hung goes on by itself, after the probes were taken away."""
    (tmp_path / "out").mkdir()
    ground = ground_of(tmp_path)
    ground.clear()
    with pytest.raises(PassingFaultError):
        ground.lay()
    assert temporaries(tmp_path) == []


def test_answers_of_a_worker_that_was_lost_go_in_the_end(tmp_path: Path) -> None:
    """It may write after nobody waits any more."""
    (tmp_path / "out").mkdir()
    ground = ground_of(tmp_path)
    ground.lay()
    trial = ground.trial("a.module", {})
    ground.clear_answers(trial, is_answered=False)
    (tmp_path / "out" / trial.answer).touch()
    ground.clear()

    assert temporaries(tmp_path) == []


def test_originals_in_folders_are_compared_too(tmp_path: Path) -> None:
    """Most drop folders hold only folders; hidden files are nobody's. What was not seen is asked for again."""
    (tmp_path / "out").mkdir()
    for name in (".hidden.jpg", "journal/2026/a.jpg", "journal/2026/b.jpg", "journal/2026/c.jpg"):
        path = tmp_path / "drop" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(name)
    ground = ground_of(tmp_path)
    drop = tmp_path / "drop"
    inside = drop / "journal" / "2026"

    assert [sample.path for sample in ground.trial("m", {}).samples] == [inside / "a.jpg", inside / "b.jpg"]
    doubted = ground.trial("m", {}, (drop, inside / "c.jpg")).samples
    assert [sample.path for sample in doubted] == [inside / "a.jpg", inside / "b.jpg", inside / "c.jpg"]
    assert len(ground.trial("m", {}, (drop, drop / "gone.jpg")).samples) == 2


def test_what_did_not_fit_is_tried_once_something_larger_is_there() -> None:
    """Not for every worker that comes."""
    berths = Berths()
    berths.note(1, 300)
    assert not berths.has_grown()
    for need in (900, 500):
        with pytest.raises(PassingFaultError) as fault:
            berths.check(need)
        assert fault.value.said == say(Passing.NO_WORKER_LARGE_ENOUGH, need=f"{need} MiB", largest="300 MiB")
    berths.note(2, 400)
    assert not berths.has_grown()
    berths.note(3, 600)
    assert berths.has_grown()
    assert not berths.has_grown()
