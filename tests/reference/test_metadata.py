"""What travels with a picture, read by exiftool and Pillow and searched for in the raw bytes."""

from __future__ import annotations

import io
import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyexiv2
import pytest
import tifffile
from PIL import Image

from tests.support.chain import deliver, recipe
from tests.support.exiftool import by_exiftool, needs_exiftool
from tests.support.odd_files import tiff, with_tag
from tests.support.outside import DATA, needs_data
from tests.support.pictures import landscape

ARTIST = 315
LATITUDE = b"58/1 29/1 30/1"
RAW_LATITUDE = b"".join(value.to_bytes(4, "little") for value in (58, 1, 29, 1, 30, 1))
THUMBNAIL = (10, 200, 10)


def thumbnail() -> bytes:
    """Return the JPEG of a small picture that is easy to tell apart."""
    stream = io.BytesIO()
    Image.new("RGB", (96, 64), THUMBNAIL).save(stream, "JPEG")
    return stream.getvalue()


def tag(path: Path) -> Path:
    """Write Exif, IPTC and XMP with rights, a caption, a location and a thumbnail into the file."""
    with pyexiv2.Image(str(path)) as image:
        image.modify_exif(
            {
                "Exif.Image.Artist": "Ida Marrow",
                "Exif.Image.Copyright": "© 2026 Ida Marrow",
                "Exif.Image.Orientation": "6",
                "Exif.Image.XResolution": "300/1",
                "Exif.Image.YResolution": "300/1",
                "Exif.Image.ResolutionUnit": "2",
                "Exif.Photo.DateTimeOriginal": "2026:05:14 04:12:00",
                "Exif.Photo.PixelXDimension": "640",
                "Exif.Photo.PixelYDimension": "480",
                "Exif.Photo.ColorSpace": "65535",
                "Exif.GPSInfo.GPSLatitudeRef": "N",
                "Exif.GPSInfo.GPSLatitude": LATITUDE.decode(),
                "Exif.GPSInfo.GPSLongitudeRef": "W",
                "Exif.GPSInfo.GPSLongitude": "12/1 7/1 0/1",
            }
        )
        image.modify_iptc(
            {"Iptc.Application2.Caption": "Grey seal at dawn", "Iptc.Application2.Keywords": ["seal", "låt"]}
        )
        image.modify_xmp(
            {
                "Xmp.dc.title": {'lang="x-default"': "Grey seal"},
                "Xmp.dc.creator": ["Ida Marrow"],
                "Xmp.exif.GPSLatitude": "58,29.5N",
                "Xmp.exif.GPSLongitude": "12,7.0W",
                "Xmp.tiff.Orientation": "6",
            }
        )
        image.modify_thumbnail(thumbnail())
    return path


def jpeg_original(folder: Path) -> Path:
    """Write a JPEG that carries everything."""
    path = folder / "grey-seal.jpg"
    landscape(640, 480).save(path, quality=92)
    return tag(path)


def tiff_original(folder: Path) -> Path:
    """Write a 16-bit TIFF that carries everything."""
    path = folder / "grey-seal.tif"
    pixels = np.asarray(landscape(640, 480)).astype(np.uint16) * 257
    tifffile.imwrite(path, pixels, photometric="rgb", metadata=None, compression="deflate")
    return tag(path)


ORIGINALS = pytest.mark.parametrize("make_original", [jpeg_original, tiff_original])


@needs_exiftool
@ORIGINALS
def test_rights_and_words_travel(tmp_path: Path, make_original: Callable[[Path], Path]) -> None:
    """An independent reader finds creator, copyright, caption, keywords, title and capture time in the delivery."""
    jpeg, made = deliver(make_original(tmp_path), recipe(320))

    found = by_exiftool(jpeg)

    assert found["IFD0:Artist"] == "Ida Marrow"
    assert found["IFD0:Copyright"] == "© 2026 Ida Marrow"
    assert found["ExifIFD:DateTimeOriginal"] == "2026:05:14 04:12:00"
    assert found["IPTC:Caption-Abstract"] == "Grey seal at dawn"
    assert found["IPTC:Keywords"] == ["seal", "låt"]
    assert found["XMP-dc:Title"] == "Grey seal"
    assert found["XMP-dc:Creator"] == ["Ida Marrow"]
    assert "metadata-left-behind" not in [doubt.key for doubt in made.findings]


@needs_exiftool
@ORIGINALS
def test_the_file_is_described_as_it_is(tmp_path: Path, make_original: Callable[[Path], Path]) -> None:
    """Orientation, dimensions and colour space are the delivery's; nothing of the original's structure is left."""
    jpeg, _ = deliver(make_original(tmp_path), recipe(320))

    found = by_exiftool(jpeg)

    assert (found["File:ImageWidth"], found["File:ImageHeight"]) == (240, 320)
    assert found["IFD0:Orientation"] == 1
    assert found["XMP-tiff:Orientation"] == 1
    assert (found["ExifIFD:ExifImageWidth"], found["ExifIFD:ExifImageHeight"]) == (240, 320)
    assert found["ExifIFD:ColorSpace"] == 1
    structure = ("StripOffsets", "Compression", "BitsPerSample", "PlanarConfiguration", "ImageWidth", "SamplesPerPixel")
    assert [key for key in found if key.startswith("IFD0:") and key.split(":")[1] in structure] == []


@needs_exiftool
@ORIGINALS
def test_no_location_is_left_for_a_reader(tmp_path: Path, make_original: Callable[[Path], Path]) -> None:
    """No tag that exiftool reads speaks of a position."""
    jpeg, _ = deliver(make_original(tmp_path), recipe(320))

    assert [key for key in by_exiftool(jpeg) if "GPS" in key] == []


@ORIGINALS
def test_no_byte_of_location_or_thumbnail_is_left(tmp_path: Path, make_original: Callable[[Path], Path]) -> None:
    """A search of the raw file finds neither the position's numbers nor the embedded thumbnail."""
    original = make_original(tmp_path)
    assert RAW_LATITUDE in original.read_bytes()

    jpeg, _ = deliver(original, recipe(320))

    assert RAW_LATITUDE not in jpeg
    assert b"GPS" not in jpeg
    assert b"58,29.5N" not in jpeg
    assert thumbnail()[-200:] not in jpeg
    assert jpeg.count(b"\xff\xd8\xff") == 1
    with Image.open(io.BytesIO(jpeg)) as image:
        assert dict(image.getexif().get_ifd(0x8825)) == {}
        assert dict(image.getexif().get_ifd(1)) == {}


@needs_data("photos")
@pytest.mark.parametrize("name", ["aerial-mpo-gps-4000x2250.jpg", "untagged-full-exif-12MP.jpg"])
def test_camera_files_keep_their_exif_and_lose_their_place(tmp_path: Path, name: str) -> None:
    """Files of real cameras, one with its position and a second picture: Exif stays, the position and that do not."""
    original = tmp_path / name
    shutil.copy(DATA / "photos" / name, original)

    jpeg, _ = deliver(original, recipe(400))

    with Image.open(io.BytesIO(jpeg)) as image, Image.open(original) as source:
        assert image.getexif()[0x010F] == source.getexif()[0x010F].rstrip("\0")
        assert dict(image.getexif().get_ifd(0x8825)) == {}
        assert getattr(image, "n_frames", 1) == 1
    assert b"MPF\0" not in jpeg


@pytest.mark.parametrize("damage", ["cut", "loop", "noise"])
def test_broken_metadata_never_stops_a_delivery(tmp_path: Path, damage: str) -> None:
    """Exif that is cut, leads in a circle or is noise is left behind; the picture is delivered."""
    original = jpeg_original(tmp_path)
    data = bytearray(original.read_bytes())
    start = data.index(b"Exif\0\0") + 6
    if damage == "cut":
        data[start + 4 : start + 8] = (60_000).to_bytes(4, "little")
    elif damage == "loop":
        data[start + 4 : start + 8] = (8).to_bytes(4, "little")
        data[start + 8 : start + 10] = (0xFFFF).to_bytes(2, "little")
    else:
        data[start : start + 200] = np.random.default_rng(1).bytes(200)
    original.write_bytes(data)

    jpeg, made = deliver(original, recipe(320))

    assert made.figures.width * made.figures.height == 320 * 240
    assert b"GPS" not in jpeg
    assert RAW_LATITUDE not in jpeg


def test_what_cannot_be_read_is_said(tmp_path: Path) -> None:
    """Where the metadata of a container cannot be read, the delivery is made and a doubt says what is missing."""
    original = tmp_path / "big.tif"
    author = (ARTIST, "s", 0, "Somebody with a long name", True)
    sound = tiff(np.asarray(landscape(300, 200)), photometric="rgb", bigtiff=True, extratags=[author])
    keys = {}
    for name, data in (("sound", sound), ("elsewhere", with_tag(sound, ARTIST, 2**40))):
        original.write_bytes(data)
        keys[name] = {doubt.key for doubt in deliver(original, recipe(150))[1].findings}

    assert keys["elsewhere"] - keys["sound"] == {"metadata-left-behind"}
