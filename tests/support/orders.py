"""What workers are given, for tests that call their functions in this process."""

from __future__ import annotations

from pathlib import Path

from lanternslide.records import (
    DeliveryTask,
    Fingerprint,
    Job,
    Recipe,
    Sharpening,
    SizeRule,
    Survey,
    SurveyTask,
    Watermark,
)
from lanternslide.worker import survey

__all__ = ["MARKED", "SEEN", "delivery", "job_for", "job_in", "survey_task"]

MARKED = Recipe(
    size=SizeRule(rule="long_edge", values=(100,)), sharpening=Sharpening(), quality=80, chroma="4:2:0",
    progressive=True, mark=Watermark(image="/srv/marks/mark.png", font="/srv/marks/mark.ttf"),
)  # fmt: skip
"""A recipe with files of its own."""

SEEN = Fingerprint(size=1, mtime_ns=2, inode=3)
"""How an original looked that is not there."""


def survey_task(original: Path, *wanted: tuple[Recipe, float], root: Path | None = None) -> SurveyTask:
    """Return the task to survey *original* as it is now; links are followed up to *root*, or the folder it lies in."""
    fingerprint = Fingerprint.of(original.stat())
    root = root or original.parent
    return SurveyTask(root=root, path=original, fingerprint=fingerprint, max_megapixels=100, wanted=wanted)


def delivery(
    number: int, how: Recipe, temporary: Path, *, destination: str = "", density: float = 1, proofs: Path | None = None
) -> DeliveryTask:
    """Return the task of one delivery, to a destination of its own if none is said."""
    return DeliveryTask(
        delivery=number, destination=destination or f"place-{number}", density=density, recipe=how,
        temporary=temporary, proofs=proofs,
    )  # fmt: skip


def job_for(original: Path, *deliveries: DeliveryTask) -> Job:
    """Return the job of these deliveries of an original, surveyed as it is now."""
    found = survey(survey_task(original))
    assert isinstance(found, Survey), found
    return Job(
        original=1, photographer="ida", root=original.parent, path=original,
        fingerprint=Fingerprint.of(original.stat()), survey=found, deliveries=deliveries,
    )  # fmt: skip


def job_in(folder: Path, proofs: Path | None = None) -> Job:
    """Return a job, of an original that is not there, whose delivery goes into *folder*."""
    delivery = DeliveryTask(
        delivery=7, destination="club", density=1.0, recipe=MARKED, temporary=folder / ".lanternslide-x-7.part",
        proofs=proofs,
    )  # fmt: skip
    return Job(
        original=1, photographer="ida", root=Path("/srv/photos/in"), path=Path("/srv/photos/in/a.jpg"),
        fingerprint=SEEN, survey=None, deliveries=(delivery,),  # type: ignore[arg-type]
    )  # fmt: skip
