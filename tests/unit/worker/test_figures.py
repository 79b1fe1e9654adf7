"""The figures of a delivery: which stand in its record, and with how many digits."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from lanternslide.chain import PLAN_VERSION, Evidence, Found, Recompressed
from lanternslide.chain.quality import Encoded
from lanternslide.imaging.colour.working_space import working_space
from lanternslide.imaging.measuring.measure import Halos
from lanternslide.imaging.reading.read import read_header
from lanternslide.records import Sharpening
from lanternslide.records.record import Clipped, Figures, ForecastFigures, Halo, Spread
from lanternslide.worker.figures import Finished, figures_of
from tests.support.chain import recipe, render
from tests.support.pictures import save_jpeg

EVIDENCE = Evidence(
    acutance=1.34567, halos=Halos(light=1.23456, dark=2.00049), tone_shift=(0.01234, 0.98765),
    clipped=(0.00001234, 0.5), ssim=0.98765432, delta_e=(0.12349, 1.00051),
)  # fmt: skip
FOUND = Found(chosen=Encoded(quality=83, jpeg=b"", size=4321, ssim=0.9876), by="ssim", tried=((83, 4321),))


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an upright original that is stored on its side."""
    return save_jpeg(tmp_path_factory.mktemp("drop") / "mast.jpg", 240, 160, orientation=6)


def figures(original: Path, *, out_of_gamut: float = 0.0, seconds: float = 1.0, **finished: Any) -> Figures:
    """Return the figures of a delivery of 40 × 60 pixels in two steps."""
    how = replace(recipe(60, chroma="4:2:0"), sharpening=Sharpening(strength=0.5, steps=2))
    rendering = replace(render(original, how), out_of_gamut=out_of_gamut)
    done = Finished(rendering=rendering, **{"found": FOUND, "evidence": EVIDENCE, "left": None, **finished})
    header = read_header(original)
    return figures_of(done, header, working_space(header), seconds)


def test_sizes_are_upright_and_what_was_done_is_the_plans(original: Path) -> None:
    """Nobody sees how an original is stored. A rung is told by its long edge, the last is the delivery's."""
    found = figures(original)

    assert (found.width, found.height) == (40, 60)
    assert (found.original_file.width, found.original_file.height, found.original_file.bits) == (160, 240, 8)
    assert found.rungs == (120, 60)
    assert (found.strength, found.chroma, found.plan) == (0.5, "4:2:0", PLAN_VERSION)
    assert (found.quality, found.quality_by) == (83, "ssim")
    assert found.original_file.profile is not None
    assert "sRGB" in found.original_file.profile


def test_figures_have_the_digits_that_mean_something(original: Path) -> None:
    """Three places; five for a likeness, which ends in nines; six for shares of pixels."""
    found = figures(original, out_of_gamut=0.123456789, seconds=1.23456)

    assert found.acutance == 1.346
    assert found.halo == Halo(light=1.235, dark=2.0)
    assert found.tone_shift == Spread(mean=0.012, p99=0.988)
    assert found.delta_e == Spread(mean=0.123, p99=1.001)
    assert found.ssim == 0.98765
    assert found.clipped == Clipped(shadows=0.000012, highlights=0.5)
    assert found.out_of_gamut == 0.123457
    assert found.seconds == 1.235


def test_what_is_not_known_has_no_figure(original: Path) -> None:
    """Too few edges, a picture smaller than the window, no operator: none of them is a zero."""
    found = figures(original, evidence=replace(EVIDENCE, acutance=None, ssim=None))

    assert (found.acutance, found.ssim, found.forecast) == (None, None, None)


@pytest.mark.parametrize(("ssim", "told"), [(0.9876549, 0.98765), (None, None)])
def test_a_forecast_is_told_as_its_operator_leaves_it(original: Path, ssim: float | None, told: float | None) -> None:
    """Its likeness has as many digits as the delivery's own."""
    found = figures(original, left=Recompressed(ssim=ssim, bytes=1234))

    assert found.forecast == ForecastFigures(ssim=told, bytes=1234)
