"""Every doubt by measure, on both sides of its threshold."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lanternslide.chain import (
    Encoded,
    Evidence,
    Found,
    Rendering,
    findings_about,
    findings_about_quality,
    plan_deliveries,
)
from lanternslide.chain.quality import Aim
from lanternslide.imaging.measuring.measure import Halos
from lanternslide.imaging.types import Array32
from lanternslide.records import Sharpening, UnsharpMask
from tests.support.chain import recipe
from tests.support.orders import delivery

EVIDENCE = Evidence(
    acutance=1.35, halos=Halos(light=1.0, dark=1.0), tone_shift=(0.0, 0.0), clipped=(0.0, 0.0), ssim=0.99,
    delta_e=(0.0, 0.0),
)  # fmt: skip
SMOOTH = np.linspace(20, 80, 60, dtype=np.float32)[None, :].repeat(40, axis=0)
STAIRS = np.repeat(np.arange(6, dtype=np.float32), 10)[None, :].repeat(40, axis=0)
"""Five steps of 1 L* in each row of 60 pixels: 0.083 for each pixel."""


def rendering(
    *, sharpening: Sharpening | None = None, ease: float = 1.0, out_of_gamut: float = 0.0, clip: bool = False,
    reference: Array32 = SMOOTH,
) -> Rendering:  # fmt: skip
    """Return a rendering about which nothing is doubtful but what is said."""
    how = replace(recipe(60), sharpening=sharpening or Sharpening(), clip=clip)
    (plan,), _ = plan_deliveries([delivery(1, how, Path())], 120, 80)
    return Rendering(
        plan=plan, codes=np.zeros((40, 60, 3), np.uint8), reference=reference, ease=ease, out_of_gamut=out_of_gamut,
        outside=np.zeros((40, 60), np.bool_), closeup=None,
    )  # fmt: skip


def keys(made: Rendering, evidence: Evidence = EVIDENCE, *, bits: int = 16, gamut_ratio: float = 1.0) -> list[str]:
    """Return the keys of what is doubtful."""
    return [doubt.key for doubt in findings_about(made, evidence, bits=bits, gamut_ratio=gamut_ratio)]


def acute(acutance: float | None) -> Evidence:
    """Return the evidence of edges that steep."""
    return replace(EVIDENCE, acutance=acutance)


def test_an_ordinary_picture_is_not_doubted() -> None:
    """Each of the others differs from this in one thing."""
    assert keys(rendering()) == []


@pytest.mark.parametrize(
    ("acutance", "ease", "expected"),
    [
        # 1.35 at strength 1; 0.05 may be missing (design, section 5; the study's tolerance).
        (1.301, 1.0, []),
        (1.299, 1.0, ["halo-at-limit"]),
        # Nine tenths of the strength aim at 1.315.
        (1.266, 0.9, []),
        (1.264, 0.9, ["halo-at-limit"]),
        # Below nine tenths an original counts as sharpened already, which says why it is softer.
        (1.0, 0.899, ["sharpened-already"]),
        (1.35, 0.5, ["sharpened-already"]),
        (None, 1.0, []),
    ],
)
def test_softness_is_told_with_its_cause(acutance: float | None, ease: float, expected: list[str]) -> None:
    """The limits on halos, or an original that was sharpened already; never both."""
    assert keys(rendering(ease=ease), acute(acutance)) == expected


def test_what_an_owner_has_set_by_numbers_is_not_called_soft() -> None:
    """Only where the amount is found for the picture is there something to fall short of."""
    own = Sharpening(finish=UnsharpMask(radius=0.3, amount=10, blend=1))

    assert keys(rendering(sharpening=own), acute(1.0)) == []
    assert keys(rendering(sharpening=Sharpening(strength=0)), acute(1.0)) == []


@pytest.mark.parametrize(("clip", "key"), [(False, "partly-out-of-gamut"), (True, "partly-clipped")])
def test_colours_beyond_srgb_are_told_from_a_hundredth_on(key: str, *, clip: bool) -> None:
    """And whether they were brought in or clipped."""
    assert keys(rendering(out_of_gamut=0.00999, clip=clip)) == []
    assert keys(rendering(out_of_gamut=0.01, clip=clip)) == [key]
    assert keys(rendering(out_of_gamut=0.0999, clip=clip)) == [key]
    assert keys(rendering(out_of_gamut=0.1, clip=clip)) == ["out-of-gamut-clipped" if clip else "out-of-gamut"]


@pytest.mark.parametrize(
    ("clipped", "expected"),
    [
        ((0.00999, 0.00999), []),
        ((0.01, 0.0), ["pure-black"]),
        ((0.0, 0.01), ["pure-white"]),
        ((0.0999, 0.0999), ["pure-black", "pure-white"]),
        ((0.1, 0.1), ["clipped-shadows", "clipped-highlights"]),
        ((0.5, 0.5), ["clipped-shadows", "clipped-highlights"]),
    ],
)
def test_black_and_white_are_told_from_a_hundredth_on(clipped: tuple[float, float], expected: list[str]) -> None:
    """Each by itself."""
    assert keys(rendering(), replace(EVIDENCE, clipped=clipped)) == expected


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.01, "1 %"), (0.0123, "1.2 %"), (0.0999, "10 %"), (0.1, "10 %"), (0.126, "13 %"), (1.0, "100 %")],
)
def test_shares_have_two_digits(share: float, text: str) -> None:
    """More would pretend to be exact."""
    (doubt,) = findings_about(rendering(), replace(EVIDENCE, clipped=(share, 0.0)), bits=16, gamut_ratio=1.0)

    assert doubt.text.startswith(f"{text} of the picture")


@pytest.mark.parametrize(
    ("bits", "gamut_ratio", "reference", "expected"),
    [
        (8, 1.11, STAIRS, ["posterised"]),
        (16, 1.11, STAIRS, []),
        (8, 1.1, STAIRS, []),
        (8, 1.11, SMOOTH, []),
        (8, 1.11, STAIRS * 5, []),  # steps of 5 L* are edges of the picture
    ],
)
def test_steps_are_told_of_few_bits_in_a_wide_space(
    bits: int, gamut_ratio: float, reference: Array32, expected: list[str]
) -> None:
    """All three have to meet: eight bits, a space wider than sRGB, and steps."""
    assert keys(rendering(reference=np.ascontiguousarray(reference)), bits=bits, gamut_ratio=gamut_ratio) == expected


def found(quality: int, size: int, by: str, ssim: float | None = None) -> Found:
    """Return a choice of quality."""
    chosen = Encoded(quality=quality, jpeg=b"", size=size, ssim=ssim)
    return Found(chosen=chosen, by=by, tried=((quality, size),))  # type: ignore[arg-type]


MORE = "Raise `max_bytes`, or lower `min_quality` or `size`."
BUDGET = Aim(quality=90, max_bytes=500_000, floor=40)


@pytest.mark.parametrize(
    ("choice", "aim", "expected"),
    [
        (found(90, 500_000, "config"), BUDGET, []),
        (found(85, 499_000, "bytes"), BUDGET, []),
        (found(84, 499_000, "bytes"), BUDGET, ["The quality was lowered to 84 to stay under 500.0 kB."]),
        (
            found(40, 500_001, "bytes"), BUDGET,
            [f"Even at quality 40, the lowest allowed, the file is 500.0 kB, over the limit of 500.0 kB. {MORE}"],
        ),
        (
            found(40, 1_234_567, "bytes"), BUDGET,
            [f"Even at quality 40, the lowest allowed, the file is 1.23 MB, over the limit of 500.0 kB. {MORE}"],
        ),
        # What its owner asks for, or what is enough, is not doubted however low.
        (found(30, 10_000, "config"), Aim(quality=30), []),
        (found(50, 10_000, "ssim", 0.98), Aim(quality=None, min_ssim=0.98), []),
    ],
)  # fmt: skip
def test_a_budget_that_costs_much_is_told(choice: Found, aim: Aim, expected: list[str]) -> None:
    """Below quality 85, or where nothing fits; only what a budget has led to."""
    assert [said.text for said in findings_about_quality(choice, aim)] == expected


@pytest.mark.parametrize(
    ("ssim", "asked", "told"),
    [
        (0.98, 0.98, None),
        (0.97, 0.98, "an SSIM of 0.97000 to the finished picture; `min_ssim` asks for 0.98"),
        # Cut off, not rounded: 0.98000 would read like what is asked for.
        (0.979999, 0.98, "an SSIM of 0.97999 to the finished picture; `min_ssim` asks for 0.98"),
        (None, 0.98, None),
        (0.5, None, None),
    ],
)
def test_a_likeness_that_is_not_kept_is_told(ssim: float | None, asked: float | None, told: str | None) -> None:
    """With both figures, and as less than what was asked for."""
    aim = Aim(quality=None, min_ssim=asked)
    doubts = list(findings_about_quality(found(100, 1000, "ssim", ssim), aim))

    assert [doubt.key for doubt in doubts] == ([] if told is None else ["unlike"])
    assert told is None or told in doubts[0].text


def test_a_budget_and_a_likeness_that_both_fail_are_both_told() -> None:
    """The quality is too low for one and too high for the other."""
    aim = Aim(quality=None, min_ssim=0.98, max_bytes=1000, floor=40)

    doubts = findings_about_quality(found(40, 1001, "bytes", 0.9), aim)

    assert [doubt.key for doubt in doubts] == ["over-bytes", "unlike"]
