"""The mark in the picture: what it does to light, where it stands, and that it is the same at every size."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image

from lanternslide.errors import PassingFaultError
from lanternslide.imaging.watermark import draw_watermark
from lanternslide.records import Watermark
from lanternslide.records.values import Corner
from lanternslide.words import Passing
from tests.support.chain import Array8, recipe, render_codes
from tests.support.pictures import landscape

Linear = npt.NDArray[np.float64]
BOX = Watermark(image="box", height=0.2, margin=0.1, opacity=0.5)


def light(codes: Array8) -> Linear:
    """Return the luminance of sRGB codes (IEC 61966-2-1:1999, 5.2), written out here apart from the code under test."""
    value = codes.astype(np.float64) / 255
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return np.asarray(linear @ [0.2126, 0.7152, 0.0722])


def even(folder: Path, colour: tuple[int, int, int], size: tuple[int, int] = (1800, 1200)) -> Path:
    """Write an original of one colour."""
    path = folder / f"{colour}-{size}.png"
    Image.new("RGB", size, colour).save(path)
    return path


def box_of(folder: Path, colour: tuple[int, int, int, int] = (200, 120, 40, 255)) -> Watermark:
    """Return a mark whose image is a plain box, twice as wide as high."""
    path = folder / "box.png"
    Image.new("RGBA", (200, 100), colour).save(path)
    return replace(BOX, image=str(path))


def rendered(original: Path, mark: Watermark | None, long_edge: int = 600) -> Array8:
    """Return the pixels of a delivery before encoding."""
    return render_codes(original, replace(recipe(long_edge), mark=mark))


def changed(original: Path, mark: Watermark, long_edge: int = 600) -> tuple[int, int, int, int]:
    """Return top, bottom, left and right of what a mark changes."""
    differs = (rendered(original, mark, long_edge) != rendered(original, None, long_edge)).any(axis=2)
    rows, columns = np.flatnonzero(differs.any(axis=1)), np.flatnonzero(differs.any(axis=0))
    return int(rows[0]), int(rows[-1]) + 1, int(columns[0]), int(columns[-1]) + 1


@pytest.mark.parametrize("under", [(20, 30, 40), (128, 128, 128), (240, 235, 230), (10, 200, 60)])
@pytest.mark.parametrize("alpha", [255, 128])
def test_light_changes_as_configured(tmp_path: Path, under: tuple[int, int, int], alpha: int) -> None:
    """Inside its box luminance is what *over* gives in linear light (Porter and Duff 1984), within 2 per cent."""
    mark = box_of(tmp_path, (200, 120, 40, alpha))
    original = even(tmp_path, under)

    before, after = (light(rendered(original, which))[300:330, 480:510] for which in (None, mark))

    cover = mark.opacity * alpha / 255
    own = light(np.array([[[200, 120, 40]]], np.uint8))[0, 0]
    expected = before * (1 - cover) + own * cover
    assert after == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(
    ("corner", "top", "left"),
    [("lower right", 280, 400), ("lower left", 280, 40), ("upper right", 40, 400), ("upper left", 40, 40),
     ("centre", 160, 220)],
)  # fmt: skip
def test_it_stands_where_it_is_asked_for(tmp_path: Path, corner: Corner, top: int, left: int) -> None:
    """600 × 400: 80 high, 160 wide, 40 from the edges, to the pixel."""
    found = changed(even(tmp_path, (90, 90, 90)), replace(box_of(tmp_path), corner=corner))

    assert found == (top, top + 80, left, left + 160)


def test_it_is_the_same_at_every_size_and_in_both_directions(tmp_path: Path) -> None:
    """A text's box is the same share of the short edge at 450, 900 and 1800 pixels, upright too."""
    mark = Watermark(text="© Ída Marrow", height=0.1, margin=0.05)
    wide, upright = (even(tmp_path, (30, 40, 60), size) for size in ((1800, 1200), (1200, 1800)))
    shares = []
    for original, long_edge in ((wide, 450), (wide, 900), (wide, 1800), (upright, 900)):
        picture = rendered(original, None, long_edge)
        top, bottom, left, right = changed(original, mark, long_edge)
        short = min(picture.shape[:2])
        shares.append(np.array([picture.shape[0] - top, picture.shape[0] - bottom, picture.shape[1] - left,
                                picture.shape[1] - right]) / short)  # fmt: skip

    for share in shares:
        assert share == pytest.approx(shares[2], abs=1.5 / 300)
    assert shares[2][1] == pytest.approx(0.05, abs=1.5 / 300)


def test_a_text_is_light_on_dark_and_dark_on_light(tmp_path: Path) -> None:
    """And on rock that is neither it is whichever stands out further; it never goes beyond its opacity."""
    mark = Watermark(text="Ída Ж Ω", height=0.15)
    dark, bright = even(tmp_path, (12, 14, 20)), even(tmp_path, (246, 247, 250))

    for original, sign in ((dark, 1), (bright, -1)):
        before, after = light(rendered(original, None)), light(rendered(original, mark))
        change = sign * (after - before)
        assert change.min() >= -1e-3
        most = mark.opacity * ((1 - before) if sign > 0 else before)
        assert (change <= most * 1.02 + 1e-3).all()
        assert change.max() == pytest.approx(most.max(), rel=0.05)


def test_the_rest_of_the_picture_stays_as_it_is(tmp_path: Path) -> None:
    """Not a code changes outside the mark's box."""
    original = tmp_path / "x.png"
    landscape(1800, 1200).save(original)
    mark = box_of(tmp_path)

    before, after = rendered(original, None), rendered(original, mark)

    outside = np.ones(before.shape[:2], bool)
    outside[280:360, 400:560] = False
    assert (before[outside] == after[outside]).all()
    assert (before[~outside] != after[~outside]).any()


def test_a_long_text_is_made_to_fit(tmp_path: Path) -> None:
    """It never sticks out of the picture."""
    top, bottom, left, right = changed(
        even(tmp_path, (30, 30, 30)), Watermark(text="lantern" * 20, height=0.2, margin=0.1)
    )

    assert (left, right) == (40, 560)
    assert 0 < bottom - top < 80


def test_what_cannot_be_used_is_said(tmp_path: Path) -> None:
    """A file that is not there, is no PNG, or a font without the letters: the picture waits, with the reason."""
    (tmp_path / "x.png").write_bytes(b"no picture")
    cases = {
        Passing.MARK_UNREADABLE: [
            Watermark(image=str(tmp_path / "away.png")), Watermark(image=str(tmp_path / "x.png")),
            Watermark(text="Ida", font=str(tmp_path / "x.png")),
        ],
        Passing.MARK_LETTERS: [Watermark(text="海豹")],
    }  # fmt: skip
    for key, marks in cases.items():
        for mark in marks:
            with pytest.raises(PassingFaultError) as raised:
                draw_watermark(mark)
            assert raised.value.said.key == key


def test_a_mark_of_16_bits_has_its_own_greys(tmp_path: Path) -> None:
    """A grey box of 16 bits gives the same picture as the one of 8 bits whose codes are a 257th of its."""
    marks = {}
    for bits, code in ((8, np.uint8(90)), (16, np.uint16(90 * 257))):
        path = tmp_path / f"{bits}.png"
        Image.fromarray(np.full((100, 200), code)).save(path)
        marks[bits] = rendered(even(tmp_path, (128, 128, 128)), replace(BOX, image=str(path)))

    np.testing.assert_array_equal(marks[16], marks[8])
    assert marks[8].min() < 128
