"""What a TIFF's directory says of pixels that are not read, and what their owner is told; classic and Big."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lanternslide.errors import OriginalHeldError
from lanternslide.imaging.reading.read import read_bands, read_header
from lanternslide.imaging.reading.tiff_layout import TiffLayout, read_layout
from lanternslide.words import Held
from tests.support.odd_files import tiff, with_tag
from tests.support.pictures import landscape

CODES = np.asarray(landscape(48, 32))
BITS, COMPRESSION, PHOTOMETRIC = 258, 259, 262
BOTH = pytest.mark.parametrize("big", [False, True], ids=["classic", "Big"])


def of_type(kind: str) -> np.ndarray[Any, np.dtype[Any]]:
    """Return a picture with values of a type."""
    values = CODES.astype(np.float64) / 255
    return (values if kind[0] in "fc" else CODES).astype(kind)


@BOTH
@pytest.mark.parametrize(
    ("kind", "found"),
    [
        ("int8", "signed numbers with 8 bits"),
        ("int16", "signed numbers with 16 bits"),
        ("uint32", "numbers with 32 bits"),
        ("uint64", "numbers with 64 bits"),
        ("float16", "floating-point numbers with 16 bits"),
        ("float32", "floating-point numbers with 32 bits"),
        ("float64", "floating-point numbers with 64 bits"),
        ("complex64", "complex numbers"),
    ],
)
def test_other_numbers_are_named(tmp_path: Path, kind: str, found: str, *, big: bool) -> None:
    """Whether libvips opens such a file or not."""
    assert held_as(tmp_path, tiff(of_type(kind), photometric="rgb", bigtiff=big)) == (Held.SAMPLE_KIND, found)


@BOTH
@pytest.mark.parametrize(
    ("photometric", "found"),
    [
        ("cielab", "in L*a*b*"),
        ("icclab", "in L*a*b*"),
        ("linear_raw", "those of a sensor, not developed yet"),
        ("logluv", "in a logarithmic scale"),
    ],
)
def test_other_colours_are_named(tmp_path: Path, photometric: str, found: str, *, big: bool) -> None:
    """They are sound, and not read."""
    assert held_as(tmp_path, tiff(CODES, photometric=photometric, bigtiff=big)) == (Held.SAMPLE_KIND, found)


@BOTH
@pytest.mark.parametrize(
    ("photometric", "found"),
    [(32803, "those of a sensor, not developed yet"), (4, "those of a mask")],
)
def test_one_channel_of_something_else_is_named(tmp_path: Path, photometric: int, found: str, *, big: bool) -> None:
    """A sensor's filters, or a mask."""
    data = tiff(CODES[..., 0] > 100, photometric="minisblack", bigtiff=big)
    if photometric != 4:
        data = tiff(CODES[..., 0], photometric="minisblack", bigtiff=big)

    assert held_as(tmp_path, with_tag(data, PHOTOMETRIC, photometric)) == (Held.SAMPLE_KIND, found)


@BOTH
def test_twelve_bits_are_named(tmp_path: Path, *, big: bool) -> None:
    """Packed, as scanners write them."""
    data = with_tag(tiff(CODES[..., 0].astype(np.uint16), photometric="minisblack", bigtiff=big), BITS, 12)

    assert held_as(tmp_path, data) == (Held.SAMPLE_KIND, "numbers with 12 bits")


@BOTH
@pytest.mark.parametrize(
    ("number", "found"),
    [
        (6, "the JPEG compression of the first TIFFs"),
        (34661, "JBIG compression"),
        (34887, "LERC compression"),
        (34892, "the JPEG compression of camera files"),
        (34925, "LZMA compression"),
        (50000, "Zstandard compression"),
        (50002, "JPEG XL compression"),
        (52546, "JPEG XL compression"),
        (60001, "compression number 60001"),
    ],
)
def test_compressions_that_are_not_read_are_no_damage(tmp_path: Path, number: int, found: str, *, big: bool) -> None:
    """The owner is told what to choose in place of it."""
    data = with_tag(tiff(CODES, photometric="rgb", bigtiff=big), COMPRESSION, number)

    assert held_as(tmp_path, data) == (Held.UNREAD_KIND, f"a TIFF with {found}")


@BOTH
def test_planes_in_tiles_are_no_damage(tmp_path: Path, *, big: bool) -> None:
    """LibTIFF reads them, libvips does not."""
    planes = np.moveaxis(CODES, -1, 0)
    data = tiff(planes, photometric="rgb", planarconfig="separate", tile=(16, 16), bigtiff=big)

    assert held_as(tmp_path, data) == (Held.UNREAD_KIND, "a TIFF whose colours lie apart, in tiles")


def held_as(folder: Path, data: bytes) -> tuple[str, str]:
    """Return why a TIFF is held: the key, and what it is found to be."""
    original = folder / "x.tif"
    original.write_bytes(data)
    with pytest.raises(OriginalHeldError) as held:
        list(read_bands(read_header(original), []))
    text = held.value.said.text
    begin = "The picture's pixels are " if text.startswith("The picture's") else "The picture is "
    return held.value.said.key, text.removeprefix(begin).split(". ")[0].split(", which")[0]


@BOTH
def test_too_many_channels_are_held(tmp_path: Path, *, big: bool) -> None:
    """As a damaged directory may claim them; some more are saved selections."""
    many = np.zeros((8, 8, 65), np.uint8)
    options = {"photometric": "rgb", "bigtiff": big, "planarconfig": "contig"}

    assert held_as(tmp_path, tiff(many, extrasamples=[0] * 62, **options)) == (Held.SAMPLE_KIND, "65 channels")
    original = tmp_path / "x.tif"
    original.write_bytes(tiff(many[..., :64], extrasamples=[0] * 61, **options))
    assert np.concatenate(list(read_bands(read_header(original), []))).shape == (8, 8, 64)


@BOTH
@pytest.mark.parametrize("compression", ["deflate", None])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.95])
def test_tiles_that_are_missing_are_never_black(
    tmp_path: Path, compression: str | None, share: float, *, big: bool
) -> None:
    """Libvips leaves such a tile black and goes on; the picture is held."""
    original = tmp_path / "x.tif"
    data = tiff(CODES, photometric="rgb", tile=(16, 16), compression=compression, bigtiff=big)
    original.write_bytes(data[: int(len(data) * share)])

    with pytest.raises(OriginalHeldError) as held:
        list(read_bands(read_header(original), []))

    assert held.value.said.key == Held.CUT_SHORT


def test_a_damaged_tile_is_never_black(tmp_path: Path) -> None:
    """One in the middle, of a file whose length is right."""
    original = tmp_path / "x.tif"
    data = bytearray(tiff(CODES, photometric="rgb", tile=(16, 16), compression="deflate"))
    middle = len(data) * 2 // 3
    data[middle : middle + 60] = b"\xff" * 60
    original.write_bytes(data)

    with pytest.raises(OriginalHeldError) as held:
        list(read_bands(read_header(original), []))

    assert held.value.said.key == Held.DAMAGED


def test_what_cannot_be_told_is_as_usual(tmp_path: Path) -> None:
    """No directory, or one that makes no sense; nobody is warned on the error stream."""
    path = tmp_path / "x.tif"
    sound = tiff(CODES, photometric="rgb")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for data in (b"", b"II*\0", b"II*\0\0\0\0\0", sound[:4] + b"\xff\xff\xff\x7f" + sound[8:]):
            path.write_bytes(data)
            layout = read_layout(path, 0)
            assert (layout.odd, layout.jpeg, layout.planes_in_tiles, layout.rows_at_once) == (None, False, False, 0)
        path.write_bytes(sound)
        assert read_layout(path, 1) == TiffLayout()
        assert read_layout(path, 0).odd is None
        path.write_bytes(with_tag(tiff(CODES[..., 0], photometric="minisblack"), BITS, 0xFFFF))
        assert read_layout(path, 0).odd is None
