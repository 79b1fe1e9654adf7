"""The demo inbox holds what the scenario says, and its generator makes the same bytes every time."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pyexiv2
import pytest
import tifffile
from PIL import Image, ImageCms

from tests.scenario.inbox import ORIGINALS, write_demo_inbox
from tests.scenario.make import picture
from tests.scenario.pictures import PICTURES

INBOX = Path(__file__).resolve().parents[3] / "demo_inbox"

TOTAL = 25_000_000
"""Bytes that the committed inbox stays under."""

LIMITS = {
    "ida/kelp-ledges.jpg": 8_000_000,
    "ida/grey-seal@journal@club.tif": 8_000_000,
    "ida/club/lighthouse-steps.jpg": 4_000_000,
    "juno/journal/islands/harbour-rigging.jpg": 4_000_000,
    "juno/shingle@noticeboard.png": 5_000_000,
    "juno/first-sketch@journal.jpg": 300_000,
    "juno/torn-transfer.jpg": 1_000_000,
}
"""The files of the demo inbox and the most bytes each may have."""

TIFF = "ida/grey-seal@journal@club.tif"
TORN = "juno/torn-transfer.jpg"
WHOLE_JPEGS = [path for path in LIMITS if path.endswith(".jpg") and path != TORN]
WITH_NOTES = [*WHOLE_JPEGS, TIFF]


def profile_name(profile: bytes) -> str:
    """Return the description in *profile*."""
    return ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(io.BytesIO(profile))).strip()


@pytest.mark.parametrize("name", ["first-sketch", "grey-seal", "lighthouse-steps"])
def test_same_bytes(name: str, tmp_path: Path) -> None:
    """Two runs write the same bytes."""
    first = write_demo_inbox(tmp_path / "first", only=name, scale=0.05)
    second = write_demo_inbox(tmp_path / "second", only=name, scale=0.05)

    assert [p.read_bytes() for p in first] == [p.read_bytes() for p in second]


@pytest.mark.parametrize("name", sorted(PICTURES))
def test_small_version(name: str) -> None:
    """A picture is drawn at any size, as finite linear float32 with both shadow and light in it."""
    linear = picture(name, 96, 64)

    assert linear.shape == (64, 96, 3)
    assert linear.dtype == np.float32
    assert np.isfinite(linear).all()
    assert float(np.percentile(linear, 5)) < 0.25 < float(np.percentile(linear, 99))


def test_unknown_picture() -> None:
    """An unknown name is answered with the names there are."""
    with pytest.raises(KeyError, match="kelp-ledges"):
        picture("cormorant", 96, 64)


def test_listed_files() -> None:
    """The inbox holds the listed files and no others."""
    found = {p.relative_to(INBOX).as_posix() for p in INBOX.rglob("*") if p.is_file()}

    assert set(LIMITS) == found
    assert set(LIMITS) == {original.path for original in ORIGINALS}


def test_bytes() -> None:
    """Every file keeps to its limit, and all of them together to the total."""
    sizes = {path: (INBOX / path).stat().st_size for path in LIMITS}

    assert {path: size for path, size in sizes.items() if size > LIMITS[path]} == {}
    assert sum(sizes.values()) < TOTAL


@pytest.mark.parametrize(
    ("path", "size", "profile", "dpi"),
    [
        ("ida/kelp-ledges.jpg", (6000, 4000), "Skerrow wide RGB (Adobe RGB 1998 compatible)", 300),
        ("ida/club/lighthouse-steps.jpg", (4500, 3000), "Skerrow display RGB (Display P3 compatible)", 72),
        ("juno/journal/islands/harbour-rigging.jpg", (4800, 3200), "sRGB", None),
        ("juno/first-sketch@journal.jpg", (900, 600), "sRGB", 72),
    ],
)
def test_jpeg(path: str, size: tuple[int, int], profile: str, dpi: int | None) -> None:
    """A JPEG is stored at its size in 8-bit 4:4:4 RGB, with its profile and its own density note."""
    with Image.open(INBOX / path) as image:
        assert (size, "RGB") == (image.size, image.mode)
        assert profile == profile_name(image.info["icc_profile"])
        assert {(1, 1)} == {tuple(layer[1:3]) for layer in image.layer}  # type: ignore[attr-defined]
        # Unit 1 is pixels per inch, unit 0 a bare aspect ratio (JFIF 1.02).
        assert dpi == (image.info["jfif_density"][0] if image.info["jfif_unit"] == 1 else None)


def test_tiff() -> None:
    """The TIFF has 16 bits per channel, deflate with the predictor, its profile, and uses the low bits."""
    with tifffile.TiffFile(INBOX / TIFF) as file:
        page = file.pages.first
        codes = page.asarray()

        assert codes.shape == (2300, 3450, 3)
        assert codes.dtype == np.uint16
        assert (page.compression, page.predictor) == (8, 2)
        assert page.iccprofile is not None
        assert profile_name(page.iccprofile).startswith("Skerrow very wide RGB")
    # A picture raised from 8 bits would hold 256 codes at most.
    assert len(np.unique(codes[..., 0])) > 10_000


def test_png() -> None:
    """The PNG has 8 bits and no profile."""
    with Image.open(INBOX / "juno/shingle@noticeboard.png") as image:
        assert (image.size, image.mode) == ((1800, 1200), "RGB")
        assert {"icc_profile", "srgb", "gamma", "dpi"}.isdisjoint(image.info)


def test_torn() -> None:
    """The torn JPEG opens by its head and fails while its pixels are read."""
    with Image.open(INBOX / TORN) as image, pytest.raises(OSError, match="truncated"):
        image.load()


@pytest.mark.parametrize("path", WITH_NOTES)
def test_notes(path: str) -> None:
    """An original names its author and rights in Exif, IPTC and XMP, and says where and when it was taken."""
    author = "Ida Marrow" if path.startswith("ida/") else "Juno Pell"
    with pyexiv2.Image(str(INBOX / path)) as image:
        exif, iptc, xmp = image.read_exif(), image.read_iptc(), image.read_xmp()

    assert author == exif["Exif.Image.Artist"]
    assert [author] == iptc["Iptc.Application2.Byline"] == xmp["Xmp.dc.creator"]
    assert f"© 2026 {author}. All rights reserved." == exif["Exif.Image.Copyright"]
    assert "Skerrow Isles" in iptc["Iptc.Application2.Keywords"]
    assert exif["Exif.Photo.DateTimeOriginal"].startswith("2026:")
    assert exif["Exif.GPSInfo.GPSLatitude"].startswith("58/1 3")


def test_orientation() -> None:
    """Only the lighthouse is stored lying on its side, to be turned by orientation 6."""
    turned = {}
    for path in WITH_NOTES:
        with pyexiv2.Image(str(INBOX / path)) as image:
            turned[path] = image.read_exif()["Exif.Image.Orientation"]

    assert {"ida/club/lighthouse-steps.jpg"} == {path for path, value in turned.items() if value == "6"}


def test_thumbnails() -> None:
    """The kelp ledges and the lighthouse carry a small picture of themselves, the others none."""
    carrying = set()
    for path in WITH_NOTES:
        with pyexiv2.Image(str(INBOX / path)) as image:
            if image.read_thumbnail():
                carrying.add(path)

    assert {"ida/kelp-ledges.jpg", "ida/club/lighthouse-steps.jpg"} == carrying
