"""What is said in an original's file: density, orientation, formats; against Pillow and tifffile."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import pyvips
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.reading.read import read_bands, read_header
from lanternslide.words import Held
from tests.support.chain import decoded, deliver, recipe, render_codes
from tests.support.outside import DATA, needs_data
from tests.support.pictures import landscape, save_jpeg

ORIENTATION = 0x0112
# How the upright picture is stored for each value of the tag (Exif 3.0, 4.6.5.1.6): what undoes it, undone.
STORED = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def all_bands(path: Path) -> npt.NDArray[Any]:
    """Return every pixel that the reader hands out, (height, width, channels)."""
    return np.concatenate(list(read_bands(read_header(path), [])))


def upright() -> Image.Image:
    """Return a picture in which every corner and edge is another."""
    picture = landscape(360, 240)
    picture.paste((250, 40, 40), (0, 0, 90, 60))
    picture.paste((40, 200, 40), (270, 0, 360, 60))
    picture.paste((40, 40, 250), (0, 180, 90, 240))
    return picture


@pytest.mark.parametrize("ending", ["jpg", "tif", "png"])
@pytest.mark.parametrize("orientation", STORED)
def test_every_orientation_comes_out_upright(tmp_path: Path, orientation: int, ending: str) -> None:
    """The eight ways to store a picture give one delivery, upright, with tag 1."""
    turn = STORED[orientation]
    stored = upright() if turn is None else upright().transpose(turn)
    original = tmp_path / f"stored.{ending}"
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    stored.save(original, exif=exif, quality=100, subsampling=0)

    jpeg, _ = deliver(original, recipe(180, quality=100))

    straight = tmp_path / "straight.png"
    upright().save(straight)
    expected = render_codes(straight, recipe(180)).astype(int)
    assert decoded(jpeg).shape == (120, 180, 3)
    assert abs(decoded(jpeg).astype(int) - expected).mean() < 2
    with Image.open(io.BytesIO(jpeg)) as image:
        assert image.getexif().get(ORIENTATION, 1) == 1


@needs_data("orientation")
@pytest.mark.parametrize("shape", ["Landscape", "Portrait"])
def test_orientation_examples_of_others(shape: str, tmp_path: Path) -> None:
    """Eight files by somebody else, one for each orientation, come out alike."""
    found = {}
    for number in range(1, 9):
        copy = tmp_path / f"{shape}_{number}.jpg"
        copy.write_bytes((DATA / "orientation" / copy.name).read_bytes())
        found[number] = render_codes(copy, recipe(300, sharpen=False)).astype(int)

    for codes in found.values():
        assert codes.shape == found[1].shape
        assert abs(codes - found[1]).mean() < 3


def test_density_changes_no_pixel(tmp_path: Path) -> None:
    """Only pixels count on a screen (common practice): 72, 300 or no dots per inch give the same pixels, and stay."""
    deliveries = {}
    for dpi in (72, 300, None):
        original = save_jpeg(tmp_path / f"dpi-{dpi}.jpg", 600, 400, dpi=dpi)
        deliveries[dpi], _ = deliver(original, recipe(210))

    assert all((decoded(jpeg) == decoded(deliveries[None])).all() for jpeg in deliveries.values())
    for dpi in (72, 300):
        with Image.open(io.BytesIO(deliveries[dpi])) as image:
            assert image.info["dpi"] == (dpi, dpi)
    with Image.open(io.BytesIO(deliveries[None])) as image:
        assert image.info["jfif_unit"] == 0


TIFF_KINDS: dict[str, dict[str, Any]] = {
    "plain": {},
    "deflate": {"compression": "deflate", "predictor": True},
    "tiles": {"tile": (64, 64), "compression": "deflate"},
    "strips": {"rowsperstrip": 7},
    "planar": {"planarconfig": "separate"},
    "big-endian": {"byteorder": ">"},
    "BigTIFF": {"bigtiff": True},
}


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("kind", TIFF_KINDS)
def test_tiff_pixels_are_read_exactly(tmp_path: Path, kind: str, bits: int) -> None:
    """Every layout and both bit depths give tifffile's pixels, 16 bits whole."""
    pixels = np.random.default_rng(1).integers(0, 2**bits, (150, 201, 3)).astype(f"u{bits // 8}")
    path = tmp_path / "picture.tif"
    options = dict(TIFF_KINDS[kind])
    data = np.moveaxis(pixels, -1, 0) if kind == "planar" else pixels
    tifffile.imwrite(path, data, photometric="rgb", metadata=None, **options)

    header = read_header(path)

    assert (header.kind, header.bits, header.channels, header.alpha) == ("TIFF", bits, 3, False)
    assert (all_bands(path) == pixels).all()


@pytest.mark.parametrize("bits", [8, 16])
def test_lzw_pixels_are_read_exactly(tmp_path: Path, bits: int) -> None:
    """LZW, which tifffile alone cannot write, gives the pixels that libvips was told to write."""
    pixels = np.random.default_rng(1).integers(0, 2**bits, (150, 201, 3)).astype(f"u{bits // 8}")
    path = tmp_path / "picture.tif"
    pyvips.Image.new_from_array(pixels).tiffsave(str(path), compression="lzw", predictor="horizontal")

    assert read_header(path).bits == bits
    assert (all_bands(path) == pixels).all()


@pytest.mark.parametrize(
    ("mode", "ending", "channels", "alpha"),
    [
        ("RGB", "png", 3, False),
        ("L", "png", 1, False),
        ("RGBA", "png", 3, True),
        ("LA", "png", 1, True),
        ("P", "png", 3, False),
        ("RGB", "webp", 3, False),
        ("RGBA", "webp", 3, True),
        ("RGB", "jpg", 3, False),
        ("L", "jpg", 1, False),
        ("L", "tif", 1, False),
        ("RGBA", "tif", 3, True),
    ],
)
def test_other_pixels_are_read_exactly(tmp_path: Path, mode: str, ending: str, channels: int, alpha: bool) -> None:  # noqa: FBT001
    """Grey, colour, palettes and opacity give Pillow's pixels."""
    path = tmp_path / f"picture.{ending}"
    picture = upright().convert(mode)
    if mode.endswith("A"):
        picture.putalpha(Image.linear_gradient("L").resize(picture.size))
    picture.save(path, lossless=True)
    with Image.open(path) as image:
        expected = np.asarray(image.convert("RGB") if mode == "P" else image)

    header = read_header(path)

    assert (header.channels, header.alpha, header.bits) == (channels, alpha, 8)
    assert (all_bands(path) == expected.reshape(*expected.shape[:2], -1)).all()


def test_sixteen_bit_png_is_read_exactly(tmp_path: Path) -> None:
    """A 16-bit PNG keeps its bits."""
    pixels = np.random.default_rng(1).integers(0, 65536, (70, 81)).astype(np.uint16)
    path = tmp_path / "picture.png"
    Image.fromarray(pixels).save(path)

    assert read_header(path).bits == 16
    assert (all_bands(path)[..., 0] == pixels).all()


def test_transparent_parts_are_white_and_doubtful(tmp_path: Path) -> None:
    """Opacity is flattened over white in linear light, and said; full opacity is no doubt."""
    path = tmp_path / "half.png"
    Image.new("RGBA", (90, 60), (0, 0, 0, 128)).save(path)
    solid = tmp_path / "solid.png"
    Image.new("RGBA", (90, 60), (10, 20, 30, 255)).save(solid)

    jpeg, made = deliver(path, recipe(45, quality=100))
    _, made_solid = deliver(solid, recipe(45))

    # 127/255 of the light of white: 255 * (1.055 * 0.498 ** (1 / 2.4) - 0.055) = 187.2 (IEC 61966-2-1:1999).
    assert abs(decoded(jpeg).astype(float) - 187.2).max() < 1
    assert "transparency" in [doubt.key for doubt in made.findings]
    assert "transparency" not in [doubt.key for doubt in made_solid.findings]


def test_the_largest_page_is_delivered(tmp_path: Path) -> None:
    """Of several pages of a TIFF the largest is the picture; the others are left out, with a doubt."""
    path = tmp_path / "pages.tif"
    with tifffile.TiffWriter(path) as writer:
        writer.write(np.full((20, 30, 3), 10, np.uint8), photometric="rgb")  # a preview: no doubt
        writer.write(np.full((120, 180, 3), 90, np.uint8), photometric="rgb")
        writer.write(np.full((200, 300, 3), 200, np.uint8), photometric="rgb")

    jpeg, made = deliver(path, recipe(150))

    assert decoded(jpeg).shape == (100, 150, 3)
    assert abs(decoded(jpeg).astype(int) - 200).max() <= 1
    assert [doubt.text for doubt in made.findings if doubt.key == "other-pages"] == [
        "The original holds 2 pictures. The largest was delivered; the others were left out."
    ]


@pytest.mark.parametrize(
    ("name", "data", "reason"),
    [
        ("empty.jpg", b"", Held.EMPTY),
        ("text.jpg", b"A note, not a picture.\n", Held.NOT_A_PICTURE),
        ("zeros.tif", bytes(4000), Held.NOT_A_PICTURE),
        ("video.jpg", b"\0\0\0\x18ftypheic" + bytes(100), Held.NOT_A_PICTURE),
        ("document.png", b"%PDF-1.7\n", Held.NOT_A_PICTURE),
        ("other.jpg", b"\x7fELF\x02\x01\x01" + bytes(100), Held.NOT_A_PICTURE),
        ("header.jpg", b"\xff\xd8\xff\xe0\x00\x10JFIF\0", None),
        ("header.png", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", None),
        ("header.tif", b"II*\0\x08\0\0\0", None),
        ("header.webp", b"RIFF\x10\0\0\0WEBPVP8 ", None),
    ],
)
def test_what_is_no_picture_is_held(tmp_path: Path, name: str, data: bytes, reason: Held | None) -> None:
    """Each kind of file that is no picture is held with a reason, never another error."""
    path = tmp_path / name
    path.write_bytes(data)

    with pytest.raises(OriginalHeldError) as held:
        read_header(path)

    if reason is not None:
        assert held.value.said.key == reason
    else:
        assert held.value.said.key in (Held.CUT_SHORT, Held.DAMAGED)


def test_floating_point_is_held(tmp_path: Path) -> None:
    """Samples that are neither 8 nor 16 bits are held with their own reason."""
    path = tmp_path / "float.tif"
    tifffile.imwrite(path, np.zeros((40, 60, 3), np.float32), photometric="rgb")

    with pytest.raises(OriginalHeldError) as held:
        read_header(path)

    assert held.value.said.key == Held.SAMPLE_KIND


@cache
def whole_file(ending: str) -> bytes:
    """Return a sound file of a kind."""
    stream = io.BytesIO()
    kind = {"jpg": "JPEG", "png": "PNG", "webp": "WEBP", "tif": "TIFF", "zip.tif": "TIFF"}[ending]
    compression = {"compression": "tiff_adobe_deflate"} if ending == "zip.tif" else {}
    landscape(200, 150).save(stream, kind, lossless=True, **compression)
    return stream.getvalue()


@settings(max_examples=60, deadline=None)
@given(ending=st.sampled_from(["jpg", "png", "webp", "tif", "zip.tif"]), share=st.floats(0, 0.95))
def test_a_cut_file_is_held(tmp_path_factory: pytest.TempPathFactory, ending: str, share: float) -> None:
    """Wherever a file is cut, it is held: half a picture is never delivered."""
    data = whole_file(ending)
    path = tmp_path_factory.mktemp("cut") / f"cut.{ending}"
    path.write_bytes(data[: int(share * len(data))])

    with pytest.raises(OriginalHeldError):
        all_bands(path)


@pytest.mark.parametrize("kind", ["assocalpha", "unassalpha"])
def test_both_kinds_of_opacity(tmp_path: Path, kind: str) -> None:
    """Colours that are stored times their opacity (TIFF 6.0, section 18, associated alpha) give the same picture."""
    codes = np.zeros((60, 80, 4), np.uint8)
    codes[...] = (200, 100, 50, 128) if kind == "unassalpha" else (100, 50, 25, 128)
    original = tmp_path / "veil.tif"
    tifffile.imwrite(original, codes, photometric="rgb", extrasamples=[kind])

    # Over white in linear light, by IEC 61966-2-1: half of each code's light and half of white's.
    code = np.array([200, 100, 50]) / 255
    light = 128 / 255 * ((code + 0.055) / 1.055) ** 2.4 + 127 / 255
    expected = 255 * (1.055 * light ** (1 / 2.4) - 0.055)
    np.testing.assert_allclose(render_codes(original, recipe(40))[10, 10], expected, atol=1.0)


def test_further_pictures_never_travel(tmp_path: Path) -> None:
    """Of a file with a second picture, such as a map for brighter displays, only the first is delivered."""
    first, second = landscape(600, 400), Image.new("RGB", (300, 200), (250, 0, 0))
    xmp = (
        b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        b'<rdf:Description rdf:about="" xmlns:hdrgm="http://ns.adobe.com/hdr-gain-map/1.0/" hdrgm:Version="1.0" '
        b'xmlns:dc="http://purl.org/dc/elements/1.1/" dc:format="image/jpeg"/></rdf:RDF></x:xmpmeta>'
    )
    original = tmp_path / "two.jpg"
    first.save(original, "MPO", save_all=True, append_images=[second], quality=95, xmp=xmp)
    first.save(tmp_path / "one.jpg", quality=95)
    assert original.read_bytes().count(b"\xff\xd8\xff") == 2

    jpeg, made = deliver(original, recipe(300))

    assert (made.figures.original_file.width, made.figures.original_file.height) == (600, 400)
    assert (decoded(jpeg) == decoded(deliver(tmp_path / "one.jpg", recipe(300))[0])).all()
    with Image.open(io.BytesIO(jpeg)) as one:
        assert getattr(one, "n_frames", 1) == 1
    assert jpeg.count(b"\xff\xd8\xff") == 1
    assert b"MPF" not in jpeg
    assert b"hdrgm" not in jpeg
    assert b"image/jpeg" in jpeg
