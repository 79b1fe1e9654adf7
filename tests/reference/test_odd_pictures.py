"""Originals that are rare and valid: noise, saturated lines, panoramas, odd channels, faults in the file."""

from __future__ import annotations

import struct
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2lab

from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.colour.icc_read import ProfileError, read_profile
from lanternslide.imaging.colour.srgb import srgb_profile
from lanternslide.imaging.encode import decode_again, encode_jpeg
from lanternslide.imaging.kernels import area_weights
from lanternslide.imaging.measuring.measure import halos
from lanternslide.imaging.reading import read_jpeg
from lanternslide.imaging.reading.read import read_header
from lanternslide.imaging.resample import Resizer
from lanternslide.records import SizeRule
from lanternslide.words import Held
from tests.support.chain import deliver, doubted_of_file, recipe, render_codes
from tests.support.pictures import landscape


@pytest.mark.parametrize("quality", [90, 94, 95, 100])
@pytest.mark.parametrize("progressive", [True, False])
def test_any_noise_can_be_encoded(quality: int, *, progressive: bool) -> None:
    """The hardest picture there is, noise of black and white in each channel, fits the encoder's buffer."""
    codes = (np.random.default_rng(1).integers(0, 2, (300, 400, 3)) * 255).astype(np.uint8)

    jpeg = encode_jpeg(codes, quality=quality, chroma="4:4:4", progressive=progressive, density=None)

    assert decode_again(jpeg).shape == codes.shape


@pytest.mark.parametrize(
    ("line", "ground"),
    [
        ((0, 250, 10), (0, 0, 70)),
        ((250, 215, 0), (20, 20, 20)),
        ((250, 0, 0), (20, 20, 20)),
        ((250, 118, 8), (90,) * 3),
    ],
)
def test_saturated_lines_keep_their_colour(
    tmp_path: Path, line: tuple[int, int, int], ground: tuple[int, int, int]
) -> None:
    """Sharpening lifts a colour no further than sRGB reaches: it is not bleached, and nothing is out of gamut."""
    picture = np.full((400, 600, 3), ground, np.uint8)
    for x in range(30, 600, 60):
        picture[:, x : x + 3] = line
    original = tmp_path / "lines.png"
    Image.fromarray(picture).save(original, icc_profile=srgb_profile())

    plain, sharp = (render_codes(original, recipe(200, sharpen=sharpen)) for sharpen in (False, True))
    where = plain.astype(int).sum(axis=2).argmax(axis=1)[100]

    a, b = (rgb2lab(codes[100, where] / 255) for codes in (plain, sharp))
    assert np.hypot(*b[1:]) >= 0.95 * np.hypot(*a[1:])
    assert abs(np.degrees(np.arctan2(b[2], b[1]) - np.arctan2(a[2], a[1]))) < 4
    assert deltaE_ciede2000(a, b) < 8
    assert deliver(original, recipe(200))[1].figures.out_of_gamut == 0


def test_wide_panoramas_are_measured(tmp_path: Path) -> None:
    """A delivery with fewer strips than the sample would skip is measured all the same."""
    original = tmp_path / "wide.png"
    landscape(20_000, 64).save(original)

    _, made = deliver(original, recipe(20_000))

    assert (made.figures.width, made.figures.height) == (20_000, 64)


def test_the_longest_jpeg(tmp_path: Path) -> None:
    """What is longer than a JPEG can be is delivered at the largest size that fits, with a doubt."""
    original = tmp_path / "long.png"
    Image.new("RGB", (66_000, 12), (120, 130, 140)).save(original)

    _, made = deliver(original, recipe(66_000))

    assert (made.figures.width, made.figures.height) == (65_500, 12)
    assert "longest-jpeg" in [doubt.key for doubt in made.findings]
    larger = replace(recipe(1), size=SizeRule(rule="long_edge", values=(70_000,), enlarge=True))
    Image.new("RGB", (2000, 2), (120, 130, 140)).save(original)
    assert deliver(original, larger)[1].figures.width == 65_500


@pytest.mark.parametrize("rows", [64, 65, 66, 68, 70])
def test_halos_do_not_depend_on_the_height(rows: int) -> None:
    """A last strip of a few rows, whose neighbours lie elsewhere, is not measured on its own."""
    reference = np.full((rows, 400), 30, np.float32)
    reference[64:] = 70
    tiles = [(part + np.float32(0.5), part) for part in (reference[:64], reference[64:]) if len(part)]
    tiles[-1][0][:1] += np.float32(9) if rows > 64 else np.float32(0)

    found = halos(tiles)

    assert found.light == pytest.approx(0.5, abs=1e-3)


@pytest.mark.parametrize("kinds", [[0], [0, 0], ["unassalpha", 0]])
def test_saved_selections_are_left_out(tmp_path: Path, kinds: list[int | str]) -> None:
    """Channels that are neither colour nor opacity (TIFF 6.0, section 18) are left out, with a doubt."""
    codes = np.zeros((80, 120, 3 + len(kinds)), np.uint8)
    codes[..., :3] = (200, 100, 50)
    codes[..., 3] = 255 if kinds[0] == "unassalpha" else 0
    original = tmp_path / "selection.tif"
    tifffile.imwrite(original, codes, photometric="rgb", extrasamples=kinds, iccprofile=srgb_profile())

    np.testing.assert_allclose(render_codes(original, recipe(60))[10, 10], (200, 100, 50), atol=1)
    assert doubted_of_file(deliver(original, recipe(60))[1]) == ["extra-channels"]


def damaged(path: Path, kind: str, mode: str = "RGB") -> Path:
    """Write a JPEG of 400 rows with a fault in its middle."""
    profile = srgb_profile() if mode == "RGB" else None
    landscape(600, 400).convert(mode).save(path, quality=92, icc_profile=profile)
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    if kind == "zeroed":
        data[middle : middle + 4000] = bytes(4000)
    elif kind == "missing":
        del data[middle : middle + 4000]
    elif kind == "added":
        data[-2:-2] = bytes(40)
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("kind", ["zeroed", "missing"])
@pytest.mark.parametrize("mode", ["RGB", "L", "CMYK"])
@pytest.mark.parametrize("whole", [True, False])
def test_jpegs_with_wrong_pixels_are_held(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, mode: str, *, whole: bool
) -> None:
    """The decoder fills in what is missing and goes on; such a picture is never published, whichever way it is read."""
    if not whole:
        monkeypatch.setattr(read_jpeg, "WHOLE_BYTES", 0)
    sound = damaged(tmp_path / "sound.jpg", "none", mode)
    assert render_codes(sound, recipe(300)).shape == (200, 300, 3)
    original = damaged(tmp_path / "x.jpg", kind, mode)

    with pytest.raises(OriginalHeldError) as held:
        render_codes(original, recipe(300))

    assert held.value.said.key == Held.DAMAGED


def test_a_tiff_of_jpeg_strips_with_wrong_pixels_is_held(tmp_path: Path) -> None:
    """So is one inside a TIFF."""
    original = tmp_path / "x.tif"
    landscape(600, 400).save(original, compression="jpeg")
    render_codes(original, recipe(300))
    data = bytearray(original.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 200] = bytes(200)
    original.write_bytes(data)

    with pytest.raises(OriginalHeldError) as held:
        render_codes(original, recipe(300))

    assert held.value.said.key in (Held.DAMAGED, Held.CUT_SHORT)


def test_a_fault_that_the_picture_survives_is_said(tmp_path: Path) -> None:
    """Bytes that do not belong there, behind the last row: delivered as it is, with a doubt."""
    sound = damaged(tmp_path / "sound.jpg", "none")
    original = damaged(tmp_path / "x.jpg", "added")

    assert (render_codes(original, recipe(300)) == render_codes(sound, recipe(300))).all()
    assert doubted_of_file(deliver(original, recipe(300))[1]) == ["small-fault"]
    assert doubted_of_file(deliver(sound, recipe(300))[1]) == []


def profile_with(tag: bytes, body: bytes, space: bytes = b"GRAY", pcs: bytes = b"XYZ ") -> bytes:
    """Return a profile of one tag."""
    head = bytearray(128)
    head[12:16], head[16:20], head[20:24], head[36:40] = b"mntr", space, pcs, b"acsp"
    return bytes(head) + struct.pack(">I4sII", 1, tag, 144, len(body)) + body


def test_curves_have_to_rise() -> None:
    """A gamma of 0, and a parametric exponent below 0, are no curves."""
    for body in (
        b"curv" + bytes(4) + struct.pack(">IH", 1, 0) + bytes(2),
        b"para" + bytes(8) + struct.pack(">i", -65536),
    ):
        with pytest.raises(ProfileError, match="does not rise"):
            read_profile(profile_with(b"kTRC", body))


def test_a_grey_curve_of_lightness_is_left_to_the_engine() -> None:
    """Under Lab a grey profile's curve gives L*, not light (ICC.1:2022, 8.3.4): it is no table of ours."""
    body = b"curv" + bytes(4) + struct.pack(">I", 0)

    assert read_profile(profile_with(b"kTRC", body)).curves is not None
    assert read_profile(profile_with(b"kTRC", body, pcs=b"Lab ")).curves is None


def test_planes_are_let_go() -> None:
    """A resizer hands its planes over and keeps none."""
    resizer = Resizer(1, (8, 8), (4, 4), area_weights)
    resizer.take(np.ones((8, 1, 8), np.float32))

    (planes,) = resizer.result()

    assert planes.shape == (1, 4, 4)
    assert resizer.result() == ()


def test_lightness_and_colour_pictures_are_held(tmp_path: Path) -> None:
    """A TIFF in L*a*b* is no picture of ours, and its owner is told so in plain words."""
    original = tmp_path / "lab.tif"
    Image.new("LAB", (60, 40), (120, 10, 10)).save(original)

    with pytest.raises(OriginalHeldError) as held:
        read_header(original)

    assert held.value.said.key == Held.SAMPLE_KIND
    assert "L*a*b*" in held.value.said.text
