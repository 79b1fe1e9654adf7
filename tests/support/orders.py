"""What workers are given, for tests that call their functions in this process."""

from __future__ import annotations

from pathlib import Path

from lanternslide.records import DeliveryTask, Fingerprint, Job, Recipe, Survey, SurveyTask
from lanternslide.worker import survey

__all__ = ["delivery", "job_for", "survey_task"]


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
