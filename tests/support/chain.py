"""The worker and the chain on one original, for tests that look at what comes out."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image

from lanternslide.chain import Rendering, decode, plan_deliveries
from lanternslide.imaging.colour.working_space import working_space
from lanternslide.imaging.reading.read import read_header
from lanternslide.imaging.watermark import draw_watermark
from lanternslide.records import (
    DeliveryTask,
    Fingerprint,
    Job,
    JobDone,
    Made,
    Recipe,
    Sharpening,
    SizeRule,
    Survey,
    SurveyTask,
)
from lanternslide.records.values import Chroma
from lanternslide.worker import make, survey

__all__ = ["Array8", "decoded", "deliver", "doubted_of_file", "recipe", "render", "render_codes", "task"]

Array8 = npt.NDArray[np.uint8]
OF_PIXELS = {
    "halo-at-limit", "clipped-shadows", "clipped-highlights", "out-of-gamut", "out-of-gamut-clipped", "posterised",
}  # fmt: skip
"""Doubts by measure: patches and hard edges, as tests draw them, have them by right."""


def recipe(long_edge: float, *, sharpen: bool = True, quality: int = 90, chroma: Chroma = "4:4:4") -> Recipe:
    """Return a recipe that sizes by the long edge."""
    size = SizeRule(rule="long_edge", values=(long_edge,))
    return Recipe(
        size=size, sharpening=Sharpening(strength=float(sharpen)), quality=quality, chroma=chroma, progressive=True
    )


def task(how: Recipe, temporary: Path, density: float = 1) -> DeliveryTask:
    """Return the task of one delivery."""
    return DeliveryTask(delivery=1, destination="portfolio", density=density, recipe=how, temporary=temporary)


def deliver(original: Path, how: Recipe) -> tuple[bytes, Made]:
    """Return the JPEG that the worker makes of *original*, and what it says of it."""
    fingerprint = Fingerprint.of(original.stat())
    found = survey(SurveyTask(root=original.parent, path=original, fingerprint=fingerprint, max_megapixels=1000))
    assert isinstance(found, Survey), found
    temporary = original.with_name(f".{original.name}.part")
    job = Job(
        original=1,
        photographer="ida",
        root=original.parent,
        path=original,
        fingerprint=fingerprint,
        survey=found,
        deliveries=(task(how, temporary),),
    )
    answer = make(job)
    assert isinstance(answer, JobDone), answer
    (outcome,) = answer.outcomes
    assert isinstance(outcome, Made), outcome
    data = temporary.read_bytes()
    temporary.unlink()
    return data, outcome


def doubted_of_file(made: Made) -> list[str]:
    """Return the keys of what is doubted of the original's file, not of what its pixels show."""
    return [doubt.key for doubt in made.findings if doubt.key not in OF_PIXELS]


def decoded(jpeg: bytes) -> Array8:
    """Return the pixels of a JPEG, shape (height, width, 3)."""
    with Image.open(io.BytesIO(jpeg)) as image:
        return np.asarray(image.convert("RGB"))


def render(original: Path, how: Recipe) -> Rendering:
    """Return the finished rendering before encoding."""
    header = read_header(original)
    space = working_space(header)
    plans, _ = plan_deliveries([task(how, original)], header.width, header.height)
    ways, _ = decode(header, space, plans)
    return ways[0].finish(None if how.mark is None else draw_watermark(how.mark))


def render_codes(original: Path, how: Recipe) -> Array8:
    """Return the finished pixels before encoding, shape (height, width, 3)."""
    return render(original, how).codes
