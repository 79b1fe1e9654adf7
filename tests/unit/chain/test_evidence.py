"""Measuring a rendering, on pictures whose figures are known beforehand."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lanternslide.chain import Plan, Rendering, forecast, measure, plan_deliveries
from lanternslide.imaging.colour.transfer import lightness_of_codes
from lanternslide.imaging.encode import encode_jpeg
from lanternslide.imaging.measuring.ssim import ssim
from lanternslide.imaging.types import Array32, Bytes8
from lanternslide.records import Recompression
from tests.support.chain import decoded, recipe
from tests.support.orders import delivery
from tests.support.pictures import landscape


def plan_for(width: int, height: int) -> Plan:
    """Return the plan of a delivery of this size, of an original twice as large."""
    (plan,), _ = plan_deliveries([delivery(1, recipe(max(width, height)), Path())], 2 * width, 2 * height)
    return plan


def rendering_of(codes: Bytes8, reference: Array32 | None = None, *, enlarged: bool = False) -> Rendering:
    """Return a rendering that looks exactly like its reference, if that is not given."""
    height, width = codes.shape[:2]
    return Rendering(
        plan=replace(plan_for(width, height), enlarged=enlarged), codes=codes,
        reference=lightness_of_codes(codes) if reference is None else reference,
        ease=1.0, out_of_gamut=0.0, outside=np.zeros((height, width), np.bool_), closeup=None,
    )  # fmt: skip


def stripes(dark: int, light: int, height: int = 160) -> Bytes8:
    """Return grey stripes 16 pixels wide: edges enough to be measured, and less than a tenth of the picture."""
    row = np.where(np.arange(240) // 16 % 2, light, dark)
    return np.repeat(np.broadcast_to(row, (height, 240))[..., None], 3, axis=2).astype(np.uint8)


def test_a_rendering_that_is_its_reference_has_nothing_to_tell() -> None:
    """As steep, no halos, no shift, and a JPEG that is the rendering itself."""
    codes = stripes(80, 160)

    found = measure(rendering_of(codes), codes)

    assert found.acutance == pytest.approx(1)
    assert (found.halos.light, found.halos.dark) == (0, 0)
    assert (*found.tone_shift, *found.clipped, *found.delta_e) == (0,) * 6
    assert found.ssim == pytest.approx(1)


@pytest.mark.parametrize("height", [64, 160, 161])
def test_steeper_edges_are_told_by_how_much(height: int) -> None:
    """Stripes with one and a half times the contrast in L*; what is beyond the reference is halo, on both sides.

    Strips of 64 rows are worked through one by one; none is forgotten.
    """
    codes = stripes(80, 160, height)
    L = lightness_of_codes(codes)
    dark, light = float(L.min()), float(L.max())
    middle = (dark + light) / 2
    reference = (middle + (L - middle) / 1.5).astype(np.float32)

    found = measure(rendering_of(codes, reference), codes)

    beyond = (light - dark) / 2 * (1 - 1 / 1.5)
    assert found.acutance == pytest.approx(1.5, rel=1e-3)
    assert found.halos.light == pytest.approx(beyond, rel=1e-3)
    assert found.halos.dark == pytest.approx(beyond, rel=1e-3)


def test_an_enlarged_picture_has_no_acutance() -> None:
    """There is no area average to be as steep as."""
    codes = stripes(80, 160)

    assert measure(rendering_of(codes, enlarged=True), codes).acutance is None


def test_a_picture_without_edges_has_no_acutance() -> None:
    """What does not tell is no figure."""
    codes = np.full((160, 240, 3), 120, np.uint8)

    assert measure(rendering_of(codes), codes).acutance is None


def test_broad_tones_that_moved_are_told_in_lightness() -> None:
    """A picture two L* lighter than its reference all over."""
    codes = np.full((160, 240, 3), 120, np.uint8)
    reference = lightness_of_codes(codes) - np.float32(2)

    assert measure(rendering_of(codes, reference), codes).tone_shift == pytest.approx((2, 2), abs=1e-3)


def test_pure_black_and_pure_white_are_shares_of_the_picture() -> None:
    """A tenth and a fifth; black in one channel only is a colour."""
    codes = np.full((160, 240, 3), 120, np.uint8)
    codes[:16] = 0
    codes[16:48] = 255
    codes[48:80, :, 0] = 0

    assert measure(rendering_of(codes), codes).clipped == pytest.approx((0.1, 0.2))


def test_what_is_seen_is_held_against_the_rendering_not_the_reference() -> None:
    """A JPEG that is off tells of itself alone."""
    codes = stripes(80, 160)
    seen = stripes(90, 150)

    found = measure(rendering_of(codes), seen)

    assert found.ssim == ssim(codes, seen)
    assert found.delta_e[0] > 1
    assert found.acutance == pytest.approx(1)
    assert found.tone_shift == (0, 0)


@pytest.mark.parametrize(("edge", "told"), [(10, False), (11, True)])
def test_a_picture_smaller_than_the_window_has_no_likeness(edge: int, *, told: bool) -> None:
    """The window is 11 × 11 pixels (Wang et al. 2004, section III.C)."""
    codes = np.full((edge, edge, 3), 120, np.uint8)

    assert (measure(rendering_of(codes), codes).ssim is not None) == told


OPERATOR = Recompression(long_edge=60, quality=60, chroma="4:2:0")


def test_a_forecast_tells_of_what_the_operator_keeps() -> None:
    """Its bytes are those of the second file, sized down; it is compared at that size."""
    codes = np.asarray(landscape(120, 80))
    jpeg = encode_jpeg(codes, quality=95, chroma="4:4:4", progressive=True, density=None)

    left = forecast(rendering_of(codes), jpeg, OPERATOR)
    worse = forecast(rendering_of(codes), jpeg, replace(OPERATOR, quality=20))

    with Image.open(io.BytesIO(jpeg)) as image:
        stream = io.BytesIO()
        image.resize((60, 40), Image.Resampling.LANCZOS).save(stream, "JPEG", quality=60, subsampling="4:2:0")
    assert left.bytes == len(stream.getvalue())
    assert left.ssim is not None
    assert worse.ssim is not None
    assert worse.ssim < left.ssim < 1
    assert worse.bytes < left.bytes


def test_what_is_smaller_than_the_operators_size_is_only_compressed() -> None:
    """It is compared with the rendering as it is."""
    codes = np.asarray(landscape(60, 40))
    jpeg = encode_jpeg(codes, quality=95, chroma="4:4:4", progressive=True, density=None)

    left = forecast(rendering_of(codes), jpeg, OPERATOR)

    with Image.open(io.BytesIO(jpeg)) as image:
        stream = io.BytesIO()
        image.save(stream, "JPEG", quality=60, subsampling="4:2:0")
    assert left.ssim == ssim(codes, decoded(stream.getvalue()))
