"""The metadata of a BigTIFF as an ordinary TIFF, read by the library that knows no other."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pyexiv2
import pytest
import tifffile

from lanternslide.imaging.reading.classic_tiff import MOST_BYTES, MOST_ENTRIES, as_classic
from tests.support.odd_files import as_bigtiff, sound_files
from tests.support.pictures import landscape

FIELDS = {
    "Exif.Image.Artist": "Ida Kvist",
    "Exif.Image.Copyright": "(c) Ida Kvist",
    "Exif.Photo.DateTimeOriginal": "2024:05:06 07:08:09",
    "Exif.Photo.ExposureTime": "1/250",
    "Exif.Photo.LensModel": "a long one",
    "Exif.GPSInfo.GPSLatitudeRef": "N",
    "Exif.GPSInfo.GPSLatitude": "59/1 19/1 46/1",
    "Exif.Iop.InteroperabilityIndex": "R03",
}


def described(path: Path, order: str) -> Path:
    """Return a BigTIFF whose metadata have `FIELDS`."""
    landscape(48, 32).save(path, "TIFF")
    if order == "MM":
        tifffile.imwrite(path, np.asarray(landscape(48, 32)), byteorder=">", metadata=None)
    with pyexiv2.Image(str(path)) as image:
        image.modify_exif(FIELDS)
    path.write_bytes(as_bigtiff(path.read_bytes()))
    return path


@pytest.mark.parametrize("order", ["II", "MM"])
def test_every_field_is_there(tmp_path: Path, order: str) -> None:
    """Those of Exif, of the place and of interoperability stand in directories of their own."""
    path = described(tmp_path / "x.tif", order)
    assert path.read_bytes()[:4] == {"II": b"II+\0", "MM": b"MM\0+"}[order]
    with pytest.raises(RuntimeError, match="unknown image type"), pyexiv2.Image(str(path)):
        pytest.fail("the library reads BigTIFF now, and all this can go")

    classic = as_classic(path)

    assert classic is not None
    assert not classic.lacks_maker_note
    with pyexiv2.ImageData(classic.data) as image:
        found = image.read_exif()
        assert {key: found.get(key) for key in FIELDS} == FIELDS
        assert not {"Exif.Image.StripOffsets", "Exif.Image.StripByteCounts"} & found.keys()


@pytest.mark.parametrize("name", sound_files())
def test_other_files_are_left_as_they_are(tmp_path: Path, name: str) -> None:
    """Only a BigTIFF has a stand-in."""
    path = tmp_path / "x"
    path.write_bytes(sound_files()[name][1])

    assert (as_classic(path) is not None) == ("BigTIFF" in name)


def big(*entries: tuple[int, int, int, int], count: int | None = None, order: str = "<") -> bytes:
    """Return a BigTIFF of some entries, each a tag, a type, a number and what stands in it."""
    table = b"".join(struct.pack(f"{order}HHQQ", *entry) for entry in entries)
    return b"II+\0\x08\0\0\0" + struct.pack("<QQ", 16, len(entries) if count is None else count) + table + bytes(8)


@pytest.mark.parametrize(
    "data",
    [
        b"", b"II+\0", b"II+\0\x08\0\0\0", b"II+\0\x04\0\0\0" + big()[8:], b"II*\0\x08\0\0\0" + big()[8:],
        big(count=1), big(count=MOST_ENTRIES + 1), big(count=2**64 - 1),
        big((315, 2, 2**63, 0)), big((315, 2, 2**40, 0)), big((315, 2, 100, 10**6)), big((315, 2, 100, 2**64 - 1)),
        big((34665, 18, 1, 16)), big((34665, 18, 1, 2**63)), big((34665, 3, 1, 16)), big((34665, 16, 2, 16)),
        big((258, 16, 1, 2**40)),
        b"II+\0\x08\0\0\0" + struct.pack("<Q", 2**64 - 1),
    ],
)  # fmt: skip
def test_nonsense_has_no_stand_in(tmp_path: Path, data: bytes) -> None:
    """Directories in a circle, values that are huge or elsewhere, types that do not fit."""
    path = tmp_path / "x.tif"
    path.write_bytes(data)

    assert as_classic(path) is None


def test_wide_numbers_become_narrow(tmp_path: Path) -> None:
    """Types that only BigTIFF has, and one that nobody knows."""
    path = tmp_path / "x.tif"
    path.write_bytes(big((256, 16, 1, 48), (257, 17, 1, 32), (65000, 99, 1, 7)))

    classic = as_classic(path)

    assert classic is not None
    assert classic.data[:8] == b"II*\0\x08\0\0\0"
    assert struct.unpack_from("<HHHIIHHIII", classic.data, 8) == (2, 256, 4, 1, 48, 257, 9, 1, 32, 0)


def test_values_that_are_large_together_have_no_stand_in(tmp_path: Path) -> None:
    """Each alone is small enough to be read; what is no metadata is not read at all, however large."""
    path, size = tmp_path / "x.tif", MOST_BYTES // 2 + 1

    for tags, is_told in (((65000, 65001), False), ((65000, 34675), True), ((65000, 37724), True)):
        with path.open("wb") as stream:
            stream.write(big(*((tag, 7, size, 100) for tag in sorted(tags))))
            stream.truncate(size + 200)

        assert (as_classic(path) is not None) == is_told, tags


def test_directories_that_lead_back_have_no_stand_in(tmp_path: Path) -> None:
    """Each of many leads to a directory that is full of such: nobody waits for that."""
    path, many = tmp_path / "x.tif", MOST_ENTRIES // 2
    path.write_bytes(big(*((34665, 18, 1, 16) for _ in range(many))))

    assert as_classic(path) is None


def test_a_value_that_is_told_many_times_counts_each_time(tmp_path: Path) -> None:
    """Though the file is small."""
    path = tmp_path / "x.tif"
    with path.open("wb") as stream:
        stream.write(big(*((65000 + number, 7, MOST_BYTES // 16, 100) for number in range(20))))
        stream.truncate(MOST_BYTES // 16 + 4096)

    assert as_classic(path) is None
