"""What files without a profile say of their colours: Exif 3.0, 4.6.6.2; DCF 2.0, 3.4.2; XMP part 2."""

from __future__ import annotations

from pathlib import Path

import pyexiv2
import pytest
from PIL import JpegImagePlugin, PngImagePlugin, TiffImagePlugin, WebPImagePlugin

from lanternslide.imaging.colour.declared import ADOBE_RGB, SRGB, Declared
from lanternslide.imaging.reading.untagged import UNCALIBRATED, Untagged, untagged
from tests.support.pictures import landscape

EXIF, MARK = "Exif.Photo.ColorSpace", "Exif.Iop.InteroperabilityIndex"
XMP, PROFILE = "Xmp.exif.ColorSpace", "Xmp.photoshop.ICCProfile"
FORMATS = {"jpg": "JPEG", "tif": "TIFF", "png": "PNG", "webp": "WebP"}


def saying(path: Path, fields: dict[str, str]) -> Path:
    """Return a picture without a profile whose metadata have some *fields*."""
    landscape(64, 48).save(path, FORMATS[path.suffix[1:]])
    with pyexiv2.Image(str(path)) as image:
        image.modify_exif({key: text for key, text in fields.items() if key.startswith("Exif.")})
        image.modify_xmp({key: text for key, text in fields.items() if key.startswith("Xmp.")})
    return path


@pytest.mark.parametrize("ending", FORMATS)
@pytest.mark.parametrize(
    ("fields", "declared", "hint"),
    [
        ({}, None, None),
        ({EXIF: "1"}, SRGB, None),
        ({EXIF: "65535"}, None, UNCALIBRATED),
        ({EXIF: "65535", MARK: "R03"}, ADOBE_RGB, None),
        ({EXIF: "65535", MARK: "R98"}, None, UNCALIBRATED),
        ({MARK: "R98"}, SRGB, None),
        ({XMP: "1"}, SRGB, None),
        ({XMP: "65535"}, None, UNCALIBRATED),
        ({PROFILE: "sRGB IEC61966-2.1"}, SRGB, None),
        ({PROFILE: "Wide Meadow"}, None, "its metadata names “Wide Meadow”"),
        ({EXIF: "65535", PROFILE: "sRGB IEC61966-2.1"}, SRGB, None),
        # A name says more than a mark that programs leave as it was.
        ({EXIF: "1", PROFILE: "Wide Meadow"}, None, "its metadata names “Wide Meadow”"),
        ({PROFILE: "Linear sRGB"}, None, "its metadata names “Linear sRGB”"),
        ({PROFILE: "Adobe RGB (1998)"}, ADOBE_RGB, None),
        ({PROFILE: "Untagged RGB"}, None, None),
        ({EXIF: "2"}, None, UNCALIBRATED),
        ({PROFILE: "W" * 500}, None, f"its metadata names “{'W' * 120}”"),
    ],
)
def test_exif_and_xmp_say_which_colours_a_file_has(
    tmp_path: Path, ending: str, fields: dict[str, str], declared: Declared | None, hint: str | None
) -> None:
    """In every format that is read."""
    assert untagged(saying(tmp_path / f"x.{ending}", fields)) == Untagged(declared=declared, hint=hint)


def test_exif_behind_the_pixels_of_a_png_counts(tmp_path: Path) -> None:
    """It may stand anywhere (PNG, third edition, 5.6); its pixels are not decoded to find it."""
    path = saying(tmp_path / "x.png", {EXIF: "1"})
    data = path.read_bytes()
    at = data.index(b"eXIf") - 4
    end = at + 12 + int.from_bytes(data[at : at + 4])
    last = data.index(b"IEND") - 4
    path.write_bytes(data[:at] + data[end:last] + data[at:end] + data[last:])

    assert untagged(path) == Untagged(declared=SRGB)


@pytest.mark.parametrize("has_exif", [True, False])
def test_no_pixel_is_decoded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, has_exif: bool) -> None:
    """A survey takes next to no memory, however large the picture."""

    def never(_image: object) -> None:
        pytest.fail("it was decoded")

    for ending in FORMATS:
        path = saying(tmp_path / f"x.{ending}", {EXIF: "1"} if has_exif else {})
        with monkeypatch.context() as patch:
            for plugin in (JpegImagePlugin.JpegImageFile, PngImagePlugin.PngImageFile, TiffImagePlugin.TiffImageFile):
                patch.setattr(plugin, "load", never)
            patch.setattr(WebPImagePlugin.WebPImageFile, "load", never)

            assert untagged(path) == Untagged(declared=SRGB if has_exif else None)


@pytest.mark.parametrize("length", [0, 3, 1 << 20, (1 << 20) + 1, 0x7FFFFFFF, 0xFFFFFFFF])
def test_a_png_with_odd_lengths_says_nothing(tmp_path: Path, length: int) -> None:
    """Neither a chunk that claims to be huge, nor Exif that is none."""
    path = tmp_path / "x.png"
    landscape(64, 48).save(path)
    data = path.read_bytes()
    for name in (b"eXIf", b"teXt"):
        chunk = length.to_bytes(4) + name + b"Exif"
        path.write_bytes(data[: data.index(b"IEND") - 4] + chunk)

        assert untagged(path) == Untagged()


@pytest.mark.parametrize("ending", FORMATS)
def test_damaged_metadata_says_nothing_else(tmp_path: Path, ending: str) -> None:
    """Whatever bytes stand where they begin."""
    path = saying(tmp_path / f"x.{ending}", {EXIF: "1", PROFILE: "sRGB"})
    whole = path.read_bytes()
    for at in range(0, len(whole), max(len(whole) // 150, 1)):
        path.write_bytes(whole[:at] + bytes(byte ^ 0xA5 for byte in whole[at : at + 9]) + whole[at + 9 :])
        assert untagged(path).declared in (None, SRGB)
