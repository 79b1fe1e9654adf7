"""Running plans on an original, on small pictures whose outcome is known by hand."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter

from lanternslide.chain import Rendering, decode, plan_deliveries
from lanternslide.chain.render import EASED, CloseupOf
from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.colour.srgb import srgb_profile
from lanternslide.imaging.colour.transfer import lightness, lightness_of_codes, srgb_decode
from lanternslide.imaging.colour.working_space import working_space
from lanternslide.imaging.measuring.closeup import Box
from lanternslide.imaging.reading.read import read_header
from lanternslide.imaging.watermark import draw_watermark
from lanternslide.records import Recipe, Sharpening, SizeRule, UnsharpMask, Watermark
from lanternslide.words import Held
from tests.scenario.spaces import ADOBE
from tests.support.chain import Array8, recipe
from tests.support.orders import delivery
from tests.support.pictures import landscape, save_jpeg

PLAIN = recipe(60, sharpen=False)
"""60 pixels, and nothing sharpened."""


def saved(path: Path, codes: Any, *, orientation: int = 1, profile: bytes | None = None) -> Path:
    """Save sRGB codes (height, width, 3) without loss, with their profile."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    picture = Image.fromarray(np.asarray(codes, np.uint8))
    picture.save(path, icc_profile=profile or srgb_profile(), exif=exif)
    return path


def rendered(original: Path, hows: Sequence[Recipe], closeup: CloseupOf | None = None) -> list[Rendering]:
    """Return the renderings of all deliveries of an original, from one decode."""
    header = read_header(original)
    wanted = [delivery(number, how, Path()) for number, how in enumerate(hows)]
    plans, _ = plan_deliveries(wanted, header.width, header.height)
    ways, _ = decode(header, working_space(header), plans)
    return [
        way.finish(None if how.mark is None else draw_watermark(how.mark), closeup)
        for way, how in zip(ways, hows, strict=True)
    ]


def one(original: Path, how: Recipe, closeup: CloseupOf | None = None) -> Rendering:
    """Return the rendering of a single delivery."""
    return rendered(original, [how], closeup)[0]


def doubted(original: Path) -> list[str]:
    """Return the keys of what decoding doubts."""
    header = read_header(original)
    plans, _ = plan_deliveries([delivery(1, PLAIN, Path())], header.width, header.height)
    return [doubt.key for doubt in decode(header, working_space(header), plans)[1]]


def test_a_picture_at_its_own_size_is_left_as_it_is(tmp_path: Path) -> None:
    """Nothing was taken from it, so nothing is given back: the same codes, however it is to be sharpened."""
    codes = np.asarray(landscape(60, 40))

    made = one(saved(tmp_path / "x.png", codes), recipe(60))

    np.testing.assert_array_equal(made.codes, codes)
    assert (made.ease, made.out_of_gamut, made.closeup) == (1.0, 0.0, None)
    np.testing.assert_allclose(made.reference, lightness_of_codes(codes), atol=0.01)


def test_light_is_averaged_not_codes(tmp_path: Path) -> None:
    """Black and white in turn are half the light: code 188 (IEC 61966-2-1), L* 76.07 (CIE 15), and not 128."""
    checks = (np.indices((80, 120)).sum(axis=0) % 2 * 255)[..., None].repeat(3, axis=2)

    made = one(saved(tmp_path / "x.png", checks), PLAIN)

    assert made.codes.shape == (40, 60, 3)
    assert (made.codes[4:-4, 4:-4] == 188).all()
    np.testing.assert_allclose(made.reference[4:-4, 4:-4], 76.07, atol=0.01)


UPRIGHT = np.repeat(
    np.repeat(np.array([[[200, 60, 60], [60, 200, 60]], [[60, 60, 200], [200, 200, 60]]]), 40, 0), 30, 1
)
"""60 × 80 pixels in four fields."""

# How what is stored has to be turned to be upright (Exif 3.0, tag 0x0112), undone.
STORED = {
    1: UPRIGHT, 2: UPRIGHT[:, ::-1], 3: UPRIGHT[::-1, ::-1], 4: UPRIGHT[::-1],
    5: UPRIGHT.swapaxes(0, 1), 6: np.rot90(UPRIGHT, 1), 7: UPRIGHT[::-1, ::-1].swapaxes(0, 1),
    8: np.rot90(UPRIGHT, -1),
}  # fmt: skip


@pytest.mark.parametrize("steps", [1, 2])
@pytest.mark.parametrize("orientation", STORED)
def test_every_orientation_comes_out_upright(tmp_path: Path, orientation: int, steps: int) -> None:
    """It is sized as it is stored and turned afterwards, over any number of rungs, with the same outcome."""
    original = saved(tmp_path / "x.png", STORED[orientation], orientation=orientation)
    how = replace(recipe(32), sharpening=Sharpening(steps=steps))

    made = one(original, how)

    assert made.codes.shape == (32, 24, 3)
    fields = [made.codes[row, column] for row, column in ((6, 6), (6, 18), (26, 6), (26, 18))]
    np.testing.assert_allclose(fields, [[200, 60, 60], [60, 200, 60], [60, 60, 200], [200, 200, 60]], atol=2)
    assert made.reference.shape == made.outside.shape == (32, 24)


def test_one_decode_serves_all_deliveries(tmp_path: Path) -> None:
    """None of them sees that the others are made, whatever they are."""
    original = save_jpeg(tmp_path / "x.jpg", 240, 160)
    hows = [
        recipe(60), replace(recipe(60), sharpening=Sharpening(strength=0.7, steps=2)),
        replace(recipe(90), mark=Watermark(text="Ida Marrow")), replace(recipe(40), brightness=5.0),
        replace(recipe(300), size=SizeRule(rule="long_edge", values=(300,), enlarge=True)),
    ]  # fmt: skip

    together = rendered(original, hows)

    for how, made in zip(hows, together, strict=True):
        np.testing.assert_array_equal(made.codes, one(original, how).codes)


def test_an_enlarged_picture_is_as_large_as_asked_for_and_does_not_ring(tmp_path: Path) -> None:
    """A step stays between its two sides, but for less than anybody sees: an L*."""
    codes = np.full((40, 60, 3), 60)
    codes[:, 30:] = 200
    larger = replace(recipe(90), size=SizeRule(rule="long_edge", values=(90,), enlarge=True))

    made = one(saved(tmp_path / "x.png", codes), larger)

    assert made.codes.shape == (60, 90, 3)
    L = lightness_of_codes(made.codes)
    dark, light = (float(lightness_of_codes(np.full((1, 1, 3), level, np.uint8))[0, 0]) for level in (60, 200))
    assert dark - 1 < L.min() < dark + 0.1
    assert light - 0.1 < L.max() < light + 1
    # What is linear between the pixels takes the place of an area average: pixel 44 lies at 29.17 of the original's.
    low, high = (float(srgb_decode(np.array(level / 255))) for level in (60, 200))
    between = lightness(np.array([low + (high - low) / 6], np.float32))
    np.testing.assert_allclose(made.reference[30, 44], between[0], atol=0.1)


def test_the_owners_tones_are_no_fault_of_the_picture(tmp_path: Path) -> None:
    """Middle grey becomes so much lighter, and so does what it is measured against."""
    grey = saved(tmp_path / "x.png", np.full((80, 120, 3), 119))  # L* 50.0

    made = one(grey, replace(PLAIN, brightness=6.0))

    np.testing.assert_allclose(lightness_of_codes(made.codes), 56, atol=0.3)
    np.testing.assert_allclose(made.reference, 56, atol=0.1)


def test_a_mark_stands_in_the_picture_and_in_what_it_is_measured_against(tmp_path: Path) -> None:
    """The lower right corner of a dark picture becomes light, the rest stays as it is."""
    dark = saved(tmp_path / "x.png", np.full((80, 120, 3), 40))

    marked = one(dark, replace(PLAIN, mark=Watermark(text="Ida", height=0.4, opacity=1.0)))
    plain = one(dark, PLAIN)

    changed = (marked.codes != plain.codes).any(axis=2)
    assert changed.any()
    assert not changed[:20].any()
    assert marked.codes.max() > 240
    assert ((marked.reference > plain.reference + 1) == (marked.codes[..., 0] > 45)).mean() > 0.95


@pytest.mark.parametrize("clip", [False, True])
def test_colours_beyond_srgb_are_counted_where_they_are(tmp_path: Path, *, clip: bool) -> None:
    """A fifth of the picture, whether it is brought in or clipped."""
    linear = np.full((80, 120, 3), 0.2, np.float32)
    linear[:, :24] = (0.02, 0.6, 0.02)
    original = saved(tmp_path / "x.png", ADOBE.codes(linear, 8), profile=ADOBE.profile())

    made = one(original, replace(PLAIN, clip=clip))

    assert made.out_of_gamut == pytest.approx(0.2, abs=0.02)
    assert made.outside[:, :11].all()
    assert not made.outside[:, 14:].any()
    assert made.out_of_gamut == made.outside.mean()
    # Each channel cut off leaves the green primary at 0.6 of the light: code 203. Brought in, it keeps its hue.
    assert np.allclose(made.codes[20, 5], (0, 203, 0), atol=2) == clip


BOX = Box(top=8, left=10, height=20, width=30)


@pytest.mark.parametrize("mark", [None, Watermark(text="Ida", height=0.9, opacity=1.0, corner="centre")])
def test_a_closeup_is_the_same_part_without_sharpening(tmp_path: Path, mark: Watermark | None) -> None:
    """It has the mark, too; where nothing was sharpened it is the plain average of the rendering."""
    original = save_jpeg(tmp_path / "x.jpg", 240, 160)
    how = replace(recipe(60), mark=mark)
    asked: list[tuple[int, ...]] = []

    def choose(L: Any) -> Box:
        asked.append(L.shape)
        return BOX

    made = one(original, how, choose)

    assert asked == [(40, 60)]
    assert made.closeup is not None
    assert made.closeup.box == BOX
    plain: Array8 = made.closeup.plain
    assert plain.shape == (20, 30, 3)
    part = made.codes[BOX.rows, BOX.columns]
    assert (plain != part).any()
    # The reference is what the closeup shows: the area average.
    np.testing.assert_allclose(lightness_of_codes(plain), made.reference[BOX.rows, BOX.columns], atol=0.6)


@functools.cache
def texture(*, sharpened: bool) -> Array8:
    """Return a texture as a camera sees it, or one sharpened hard at 0.6 pixels of half its size."""
    random = np.random.default_rng(3)
    ground = sum(gaussian_filter(random.normal(0, 1, (240, 360)), sigma) * sigma * 28 for sigma in (1.2, 2.4, 4.8, 9.6))
    if sharpened:
        ground = ground + 5 * (ground - gaussian_filter(ground, 1.2))
    return np.repeat(np.clip(np.rint(128 + ground), 0, 255)[..., None], 3, axis=2).astype(np.uint8)


def test_an_original_that_was_sharpened_hard_is_treated_gently(tmp_path: Path) -> None:
    """Less than nine tenths of the strength, but never less than half (what was settled for them)."""
    soft, hard = (saved(tmp_path / f"{name}.png", texture(sharpened=name == "hard")) for name in ("soft", "hard"))

    assert one(soft, recipe(180)).ease == 1.0
    assert 0.5 <= one(hard, recipe(180)).ease < EASED


def test_a_ladder_leaves_its_larger_sizes_alone_then(tmp_path: Path) -> None:
    """Both are resized over the same rung; what was sharpened already is not sharpened there."""
    hard = saved(tmp_path / "hard.png", texture(sharpened=True))
    mask = UnsharpMask(radius=0.7, amount=150, blend=1)
    by_need = replace(recipe(120), sharpening=Sharpening(steps=2))
    owners = replace(recipe(120), sharpening=Sharpening(steps=2, lead=mask))

    made, by_numbers = one(hard, by_need), one(hard, owners)

    assert made.ease < EASED
    assert by_numbers.ease < EASED
    # What an owner asks for by numbers is the owner's.
    assert np.abs(by_numbers.codes.astype(int) - made.codes).max() > 4


def test_what_an_owner_decides_by_numbers_is_not_eased(tmp_path: Path) -> None:
    """Where nothing is found for the picture there is nothing to go gently about."""
    hard = saved(tmp_path / "hard.png", texture(sharpened=True))
    mask = UnsharpMask(radius=0.7, amount=100, blend=1)

    assert one(hard, replace(recipe(180), sharpening=Sharpening(finish=mask))).ease == 1.0
    assert one(hard, recipe(180, sharpen=False)).ease == 1.0


def test_more_strength_makes_edges_steeper(tmp_path: Path) -> None:
    """And no strength leaves them as the resize made them."""
    soft = saved(tmp_path / "soft.png", texture(sharpened=False))

    spread = [
        float(np.abs(np.diff(lightness_of_codes(made.codes))).mean())
        for made in rendered(
            soft, [replace(recipe(180), sharpening=Sharpening(strength=strength)) for strength in (0, 0.5, 1)]
        )
    ]

    assert spread == sorted(spread)
    assert spread[0] < spread[2]


def test_a_file_that_is_cut_short_is_held(tmp_path: Path) -> None:
    """Half a picture is nobody's."""
    original = save_jpeg(tmp_path / "x.jpg", 240, 160)
    data = original.read_bytes()
    original.write_bytes(data[: len(data) // 2])

    with pytest.raises(OriginalHeldError) as held:
        one(original, PLAIN)

    assert held.value.said.key == Held.CUT_SHORT.value


@pytest.mark.parametrize(("alpha", "expected"), [(255, []), (254, ["transparency"]), (0, ["transparency"])])
def test_transparent_parts_are_told(tmp_path: Path, alpha: int, expected: list[str]) -> None:
    """One pixel is enough; a channel of opacity that hides nothing is not."""
    picture = Image.new("RGBA", (60, 40), (120, 130, 140, 255))
    picture.putpixel((30, 20), (120, 130, 140, alpha))
    picture.save(tmp_path / "x.png", icc_profile=srgb_profile())

    assert doubted(tmp_path / "x.png") == expected


def test_bytes_that_do_not_belong_there_are_told(tmp_path: Path) -> None:
    """The picture has survived them."""
    original = save_jpeg(tmp_path / "x.jpg", 240, 160)
    sound = one(original, PLAIN).codes
    assert doubted(original) == []
    data = original.read_bytes()
    original.write_bytes(data[:-2] + b"\x11\x22\x33\x44" + data[-2:])

    np.testing.assert_array_equal(one(original, PLAIN).codes, sound)
    assert doubted(original) == ["small-fault"]
