"""What an owner can ask for: tones, strength, and what becomes of colours that sRGB cannot show."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from skimage.color import rgb2lab

from lanternslide.imaging.colour.to_srgb import luminance
from lanternslide.imaging.tone import ToneCurve
from lanternslide.records import Sharpening
from tests.support.chain import deliver, recipe, render_codes
from tests.support.icc_write import matrix_profile
from tests.support.pictures import landscape, save_jpeg

LEVELS = np.linspace(0, 100, 1001, dtype=np.float32)
ROMM = ((0.7347, 0.2653), (0.1596, 0.8404), (0.0366, 0.0001), (0.3457, 0.3585), 1.8)
"""ISO 22028-2, with a plain gamma of 1.8."""


@given(brightness=st.floats(-20, 20), contrast=st.floats(-50, 50))
def test_tone_curves_rise_and_keep_their_ends(brightness: float, contrast: float) -> None:
    """Whatever the settings: black stays black, white stays white, and lighter stays lighter."""
    found = ToneCurve(brightness=brightness, contrast=contrast)(LEVELS)

    assert found[0] == pytest.approx(0, abs=1e-4)
    assert found[-1] == pytest.approx(100, abs=1e-4)
    assert np.diff(found).min() >= -1e-4


@pytest.mark.parametrize(
    ("curve", "level", "expected"),
    [
        # By hand: 4x(1 - x) is 1 at x = 0.5 and 0.75 at 0.25; 2x(1 - x)(2x - 1) is 0 at 0.5 and -0.1875 at 0.25.
        (ToneCurve(brightness=10), 50, 60),
        (ToneCurve(brightness=10), 25, 32.5),
        (ToneCurve(contrast=40), 50, 50),
        (ToneCurve(contrast=40), 25, 25 - 7.5),
        (ToneCurve(contrast=-40), 75, 75 - 7.5),
    ],
)
def test_tone_curves_by_hand(curve: ToneCurve, level: float, expected: float) -> None:
    """Brightness is what middle grey gains; contrast leaves middle grey alone."""
    assert curve(np.array([level], np.float32))[0] == pytest.approx(expected, abs=1e-4)


def test_no_correction_changes_no_pixel(tmp_path: Path) -> None:
    """Zero is off."""
    assert not ToneCurve()
    original = save_jpeg(tmp_path / "x.jpg", 600, 400)
    how = recipe(300)

    assert (render_codes(original, how) == render_codes(original, replace(how, brightness=0.0, contrast=0.0))).all()


def test_brightness_keeps_chromaticity_and_is_no_fault(tmp_path: Path) -> None:
    """A grey gets lighter by what was asked, a colour keeps its hue, and the record's tone shift does not count it."""
    original = tmp_path / "patches.png"
    picture = np.full((300, 600, 3), (118, 118, 118), np.uint8)
    picture[:, 300:] = (150, 90, 70)
    Image.fromarray(picture).save(original)

    _, made = deliver(original, replace(recipe(300), brightness=10.0))
    codes = render_codes(original, replace(recipe(300), brightness=10.0))

    before, after = (
        rgb2lab(np.array(colour, np.uint8)[None, None] / 255)[0, 0] for colour in (picture[0, 0], codes[75, 75])
    )
    x = before[0] / 100
    assert after[0] == pytest.approx(before[0] + 10 * 4 * x * (1 - x), abs=0.5)
    light = ((codes[75, 225] / 255 + 0.055) / 1.055) ** 2.4
    was = ((np.array((150, 90, 70)) / 255 + 0.055) / 1.055) ** 2.4
    np.testing.assert_allclose(light / light.sum(), was / was.sum(), atol=0.005)
    assert made.figures.tone_shift.p99 < 0.5


def test_strength_is_monotone_and_reaches_its_acutance(tmp_path: Path) -> None:
    """More strength, steeper edges: 1 + 0.35 times the strength, as far as the limits allow."""
    original = tmp_path / "harbour.jpg"
    demo = Path(__file__).resolve().parents[2] / "demo_inbox/juno/journal/islands/harbour-rigging.jpg"
    original.write_bytes(demo.read_bytes())

    found = [
        deliver(original, replace(recipe(1050), sharpening=Sharpening(strength=strength)))[1].figures
        for strength in (0, 0.5, 1, 1.5)
    ]

    acutances = [figures.acutance or 0 for figures in found]
    assert acutances == sorted(acutances)
    assert acutances[1] == pytest.approx(1.175, abs=0.05)
    assert acutances[2] == pytest.approx(1.35, abs=0.05)
    assert [figures.strength for figures in found] == [0, 0.5, 1, 1.5]
    assert max(figures.halo.dark for figures in found) <= 3.2


def test_clipping_cuts_where_compressing_does_not(tmp_path: Path) -> None:
    """A green far outside sRGB: clipped it becomes the purest green there is, brought in it stays less pure.

    (That what is brought in keeps its lightness is held to colour-science in test_colour.)
    """
    original = tmp_path / "green.png"
    Image.new("RGB", (120, 80), (10, 250, 10)).save(original, icc_profile=matrix_profile("ROMM", *ROMM))

    kept, cut = (render_codes(original, replace(recipe(60), clip=clip))[20, 30] for clip in (False, True))

    assert cut.tolist() == [0, 255, 0]
    assert kept.max() < 255
    assert deliver(original, replace(recipe(60), clip=True))[1].figures.out_of_gamut == 1


def test_a_grey_original_is_the_colour_one_without_colour(tmp_path: Path) -> None:
    """The same greys stored in one channel and in three give the same picture."""
    grey = landscape(600, 400).convert("L")
    grey.save(tmp_path / "grey.png")
    grey.convert("RGB").save(tmp_path / "colour.png")

    one, three = (render_codes(tmp_path / f"{name}.png", recipe(210)).astype(int) for name in ("grey", "colour"))

    assert abs(one - three).max() <= 1


def test_luminance_of_grey_can_be_changed() -> None:
    """What luminance returns is the caller's own: changing it does not change the picture."""
    planes = np.full((1, 4, 5), 0.5, np.float32)
    luminance(planes, np.eye(3))[:] = 7

    assert (planes == 0.5).all()
