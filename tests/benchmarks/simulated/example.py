"""A real survey and a real delivery, of which the pictures of the simulation are made."""

from __future__ import annotations

from pathlib import Path

from lanternslide.config import load_settings
from lanternslide.records import DroppedFile, Fingerprint, Job, JobDone, Made, Survey, SurveyTask
from lanternslide.worker import make, survey
from tests.benchmarks.simulated.replay import DESTINATION, Example
from tests.support.chain import recipe, task
from tests.support.service import PLAIN, make_home

__all__ = ["CONFIG", "PICTURE", "example_in"]

PICTURE = Path("demo_inbox/ida/kelp-ledges.jpg")
"""The scenario's own of 24 megapixels."""

CONFIG = (
    PLAIN.replace('otherwise = ["portfolio", "journal"]', f'otherwise = ["{DESTINATION}"]')
    .replace("box = [1920, 1080]", "long_edge = 1050")
    .replace("[destinations.portfolio]", f'[photographers.juno]\ndrop = "drop/juno"\notherwise = ["{DESTINATION}"]\n\n'
             "[destinations.portfolio]")
)  # fmt: skip
"""Two photographers, one destination."""


def example_in(folder: Path) -> Example:
    """Make a home in *folder*, have the scenario's picture surveyed and made, and return what came of it."""
    home = make_home(folder, CONFIG)
    settings = load_settings(home.config)
    original = home.drop() / PICTURE.name
    original.write_bytes(PICTURE.read_bytes())
    fingerprint = Fingerprint.of(original.stat())
    file = DroppedFile(photographer="ida", drop=home.drop(), relative=Path(PICTURE.name), fingerprint=fingerprint)
    found = survey(SurveyTask(root=home.drop(), path=original, fingerprint=fingerprint, max_megapixels=1000))
    assert isinstance(found, Survey), found
    answer = make(
        Job(
            original=1, photographer="ida", root=home.drop(), path=original, fingerprint=fingerprint, survey=found,
            deliveries=(task(recipe(1050), folder / "delivery.part"),),
        )
    )  # fmt: skip
    assert isinstance(answer, JobDone), answer
    (made,) = answer.outcomes
    assert isinstance(made, Made), made
    (folder / "delivery.part").unlink()
    original.unlink()
    return Example(settings=settings, file=file, survey=found, made=made)
