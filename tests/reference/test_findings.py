"""What is doubted about a delivery by measure: each on a picture that has it and on one that has not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image, ImageFilter

from lanternslide.imaging.measuring.posterised import steps
from tests.scenario.spaces import ADOBE, P3, ROMM, SRGB, Space
from tests.support.chain import deliver, recipe

DEMO = Path(__file__).resolve().parents[2] / "demo_inbox"


def keys(original: Path, long_edge: float = 300, **wishes: object) -> list[str]:
    """Return the keys of what is doubted of a delivery."""
    return [doubt.key for doubt in deliver(original, replace(recipe(long_edge), **wishes))[1].findings]  # type: ignore[arg-type]


def saved(path: Path, space: Space, linear: npt.NDArray[np.float64]) -> Path:
    """Save linear light (height, width, 3) of a space as a TIFF with its profile."""
    codes = np.rint(space.codes(linear.astype(np.float32), 8)).astype(np.uint8)
    Image.fromarray(codes).save(path, icc_profile=space.profile())
    return path


def sky(space: Space, grain: float) -> npt.NDArray[np.uint8]:
    """Return an 8-bit dusk sky in a wide space, with *grain* of so many codes."""
    height, width = 1200, 1600
    t = np.clip(np.linspace(0, 0.9, height)[:, None] + np.linspace(0, 0.1, width)[None, :], 0, 1) ** 1.5
    low, high = space.ink(0.06, 0.05, 0.10), space.ink(0.45, 0.28, 0.15)
    linear = (low + (high - low) * t[..., None]).astype(np.float32)
    codes = space.codes(linear, 16).astype(np.float64) / 257
    codes += np.random.default_rng(3).normal(0, grain, codes.shape) if grain else 0
    return np.clip(np.rint(codes), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("space", [ROMM, ADOBE, P3], ids=lambda space: str(space.name))
def test_a_posterised_sky_is_doubted(tmp_path: Path, space: Space) -> None:
    """Eight bits in a wide space without grain leave steps; grain of half a code or more hides them."""
    for name, grain, doubted in (("clean", 0.0, True), ("grain", 0.7, False)):
        original = tmp_path / f"{name}.tif"
        Image.fromarray(sky(space, grain)).save(original, icc_profile=space.profile())

        assert ("posterised" in keys(original, 800)) == doubted, name


def test_steps_of_srgb_are_no_matter(tmp_path: Path) -> None:
    """A sky with 8 bits in sRGB has the steps that any JPEG on the web has."""
    original = tmp_path / "sky.tif"
    Image.fromarray(sky(SRGB, 0)).save(original, icc_profile=SRGB.profile())

    assert keys(original, 800) == []


def test_steps_are_counted() -> None:
    """By hand: 5 steps of 1 L* in each of 40 rows of levels 10 pixels wide are 200 steps on 2,400 pixels."""
    stairs = np.repeat(np.arange(6, dtype=np.float32), 10)[None, :].repeat(40, axis=0)

    assert steps(stairs) == pytest.approx(200 / 2400)
    assert steps(np.ascontiguousarray(stairs.T)) == pytest.approx(200 / 2400)
    tall = np.repeat(np.arange(20, dtype=np.float32), 10)[:, None].repeat(50, axis=1)
    assert steps(tall) == pytest.approx(19 * 50 / tall.size)
    assert steps(stairs * 5) == 0
    assert steps(stairs[:, :4]) == 0


@pytest.mark.parametrize(("share", "doubted"), [(0.05, True), (0.002, False)])
@pytest.mark.parametrize(("level", "key"), [(0.0, "pure-black"), (1.0, "pure-white")])
def test_clipped_parts_are_doubted(tmp_path: Path, level: float, key: str, share: float, *, doubted: bool) -> None:
    """A hundredth of the picture in pure black or white is told, a small glint is not."""
    linear = np.full((400, 600, 3), 0.2)
    linear[: round(400 * share**0.5), : round(600 * share**0.5)] = level
    original = saved(tmp_path / "x.tif", SRGB, linear)

    assert keys(original) == ([key] if doubted else [])


@pytest.mark.parametrize(("clip", "key"), [(False, "partly-out-of-gamut"), (True, "partly-clipped")])
def test_colours_beyond_srgb_are_doubted(tmp_path: Path, key: str, *, clip: bool) -> None:
    """A part in the green of a wide space is told with its share, and whether it was compressed or clipped."""
    linear = np.full((400, 600, 3), 0.2)
    linear[:100, :120] = (0.02, 0.6, 0.02)
    original = saved(tmp_path / "x.tif", ADOBE, linear)
    plain = saved(tmp_path / "y.tif", ADOBE, np.full((400, 600, 3), 0.2))

    _, made = deliver(original, replace(recipe(300), clip=clip))

    assert [doubt.key for doubt in made.findings] == [key]
    assert made.findings[0].text.startswith("5 % of the picture")  # 100 × 120 of 400 × 600 pixels
    assert keys(plain) == []


def test_softness_at_the_halo_limit_is_doubted(tmp_path: Path) -> None:
    """Edges that are blurred already cannot become as steep as others within the limits; texture can."""
    with Image.open(DEMO / "ida" / "kelp-ledges.jpg") as picture:
        profile = picture.info["icc_profile"]
        for name, blur, doubted in (("crisp", 0, False), ("blurred", 12, True)):
            original = tmp_path / f"{name}.tif"  # written as it is
            picture.filter(ImageFilter.GaussianBlur(blur)).save(original, icc_profile=profile)

            assert ("halo-at-limit" in keys(original, 1050)) == doubted, name
