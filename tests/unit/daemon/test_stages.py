"""What a picture in hand is at, and what follows."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import pytest

from lanternslide.daemon.stages import FOLLOWS, Ending, Stage, WorkItem
from lanternslide.records import DroppedFile, Fingerprint, Routing, Survey
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


def test_every_stage_leads_to_an_ending() -> None:
    """Nothing stays in hand for ever, and nothing is at a stage, or ends, in a way that no other leads to."""
    stages, endings = set(get_args(Stage)), set(get_args(Ending))

    assert FOLLOWS.keys() == stages
    assert set().union(*FOLLOWS.values()) == (stages | endings) - {first_stage()}
    assert all(FOLLOWS[stage] & endings for stage in stages)


def first_stage() -> type[Stage]:
    """Return what every picture begins with."""
    return next(iter(FOLLOWS))


def test_the_table_for_developers_is_true() -> None:
    """Each row has a stage, the stages that may follow, and the endings."""
    text = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text("utf-8")
    rows = [line.split("|")[1:4] for line in text.splitlines() if line.startswith("| ")]
    named = {stage.__name__: stage for stage in FOLLOWS}
    told = {
        cells[0].strip(): {name.strip() for cell in cells[1:] for name in cell.split(",") if name.strip()}
        for cells in rows
        if cells[0].strip() in named
    }

    assert told == {stage.__name__: {kind.__name__ for kind in kinds} for stage, kinds in FOLLOWS.items()}
