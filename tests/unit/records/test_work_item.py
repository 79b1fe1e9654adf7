"""One original on its way."""

from __future__ import annotations

from pathlib import Path

import pytest

from lanternslide.records import DroppedFile, Fingerprint, Routing, Survey, WorkItem
from lanternslide.words import Doubt, say

DROP, FILED = Path("drop/ida"), Path("filed/2026/seal@club.jpg")
HERE = Fingerprint(size=10, mtime_ns=20, inode=30)
SURVEY = Survey(digest="d", width=60, height=40, bits=8, kind="JPEG", need_mib=200.0)


def item(name: str, *, is_older: bool = False, filed: Path | None = None) -> WorkItem:
    """Return the item of a seal's picture that goes to the club."""
    file = DroppedFile(photographer="ida", drop=DROP, relative=Path(name), fingerprint=HERE, filed=filed)
    routing = Routing(picture=Path("seal.jpg"), stem="seal", folder=Path(), destinations=("club", "journal"), why="tag")
    return WorkItem(file=file, routing=routing, original=7, is_older=is_older)


def test_names_that_differ_only_in_tags_are_one_picture() -> None:
    """One at a time is done of each picture."""
    assert item("seal@club.jpg").key == item("seal@journal.jpg").key == ("ida", Path("seal.jpg"))


@pytest.mark.parametrize(("is_older", "queues"), [(False, ("club", "journal")), (True, ())])
def test_older_work_is_in_no_queue(*, is_older: bool, queues: tuple[str, ...]) -> None:
    """A sync job hears that a destination's queue is empty as soon as all that is fresh is done."""
    assert item("seal.jpg", is_older=is_older).queues_for == queues


@pytest.mark.parametrize(
    ("filed", "path", "root"), [(None, DROP / "seal@club.jpg", DROP), (FILED, FILED, FILED.parent)]
)
def test_a_worker_reads_the_original_where_it_lies(filed: Path | None, path: Path, root: Path) -> None:
    """In the drop folder or where it is filed away, and follows no link below that."""
    doubt = say(Doubt.TAG_KEPT, tag="home")

    job = item("seal@club.jpg", filed=filed).surveyed(SURVEY).job(iter(()), (doubt,))

    assert (job.path, job.root) == (path, root)
    assert (job.original, job.photographer, job.fingerprint, job.survey) == (7, "ida", HERE, SURVEY)
    assert (job.deliveries, job.findings) == ((), (doubt,))
