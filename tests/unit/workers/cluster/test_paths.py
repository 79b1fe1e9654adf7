"""What paths are called on another machine."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from lanternslide.records import Job, JobDone, LeftOut, Refused, Stalled, SurveyTask, TraceTask, Watermark
from lanternslide.words import Said
from lanternslide.workers.cluster.paths import PathMap, task_there
from tests.support.orders import MARKED, SEEN, job_in

TABLE = {"/srv/photos": "/mnt/photos", "/srv/photos/out/club": "/mnt/club", "/srv/marks": "/m"}
ATTIC = PathMap.for_host("attic", {"attic": TABLE})


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
        root=Path("/srv/photos/in"), path=Path("/srv/photos/in/x/a.jpg"), fingerprint=SEEN, max_megapixels=1,
        wanted=((MARKED, 1.0),),
    )  # fmt: skip
    other = TraceTask(survey=survey, destinations=("club",))
    there = task_there(survey, ATTIC, "ab")
    assert isinstance(there, SurveyTask)
    assert (there.root, there.path) == (Path("/mnt/photos/in"), Path("/mnt/photos/in/x/a.jpg"))
    assert there.wanted[0][0].mark == replace(MARKED.mark or Watermark(), image="/m/mark.png", font="/m/mark.ttf")
    assert task_there(other, ATTIC, "ab") is other
    made = task_there(job_in(Path("/srv/photos/out/club"), Path("/srv/photos/proofs")), ATTIC, "ab")
    assert isinstance(made, Job)
    assert made.deliveries[0].temporary == Path("/mnt/club/.lanternslide-x-7-ab.part")
    assert made.deliveries[0].proofs == Path("/mnt/photos/proofs")


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
    said, back = Said(key="k", text=there), Said(key="k", text=here)

    assert ATTIC.result_back(Refused(said=said)) == Refused(said=back)
    assert ATTIC.result_back(Stalled(said=said)) == Stalled(said=back)
    done = JobDone(outcomes=(Stalled(said=said, delivery=1), LeftOut(delivery=2)))
    assert ATTIC.result_back(done) == JobDone(outcomes=(Stalled(said=back, delivery=1), LeftOut(delivery=2)))


def test_what_was_put_back_is_not_taken_for_another_folder() -> None:
    """Folders that swap their names swap them once."""
    swapped = PathMap.for_host("attic", {"attic": {"/a": "/b", "/b": "/a"}})

    assert swapped.back(Said(key="k", text="/a/x and /b/y")).text == "/b/x and /a/y"
