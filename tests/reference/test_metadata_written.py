"""What is written is right: by exiftool's own check, field by field, and where in the frame it is."""

from __future__ import annotations

import hashlib
import io
import struct
from collections import Counter
from dataclasses import replace
from pathlib import Path
from tempfile import NamedTemporaryFile, TemporaryDirectory
from typing import Any

import pyexiv2
import pytest
from PIL import Image

from lanternslide.records import Made, Rights
from tests.reference.test_metadata_policies import OWN, original_of
from tests.support.chain import deliver, recipe
from tests.support.exiftool import ask_exiftool, by_exiftool, needs_exiftool, write_by_exiftool
from tests.support.iptc import block, data_set, jpeg_with_blocks
from tests.support.outside import DATA, needs_data
from tests.support.pictures import landscape
from tests.support.xmp import jpeg_with_xmp, packet

pytestmark = needs_exiftool


def made_from(original: Path, **changes: Any) -> tuple[bytes, Made]:
    """Return a delivery of 120 pixels, and what is said of it."""
    return deliver(original, replace(recipe(120), **changes))


def complaints(data: bytes, ending: str) -> Counter[str]:
    """Return what exiftool finds wrong with a file."""
    with NamedTemporaryFile(suffix=ending) as file:
        file.write(data)
        file.flush()
        said = ask_exiftool("-validate", "-warning", "-error", "-a", "-s", "-s", "-s", file.name)
    return Counter(line for line in said.splitlines() if line != "OK" and "Warning" not in line[:12])


def jpeg(path: Path, *options: str, **fields: str) -> Path:
    """Write a JPEG with *options* of exiftool's, and these *fields* of the library's (``Exif_Photo_X``)."""
    landscape(320, 240).save(path, "JPEG", quality=90)
    if fields:
        with pyexiv2.Image(str(path)) as image:
            image.modify_exif({key.replace("_", "."): text for key, text in fields.items()})
    if options:
        write_by_exiftool(path, *options)
    return path


# Nothing is wrong that was right


@pytest.mark.parametrize("own", [None, OWN], ids=["nobody's", "own"])
@pytest.mark.parametrize("policy", ["whole", "rights"])
@pytest.mark.parametrize("kind", ["jpg", "tif", "png", "plain", "camera"])
def test_exiftool_finds_nothing_wrong(tmp_path: Path, kind: str, policy: str, own: Rights | None) -> None:
    """Neither in originals that carry everything, nor in those that carry nothing, or a camera's little."""
    if kind in ("plain", "camera"):
        camera = {"Exif_Image_Make": "Kelpworks", "Exif_Photo_DateTimeOriginal": "2026:05:14 04:12:00"}
        original = jpeg(tmp_path / "x.jpg", **(camera if kind == "camera" else {}))
    else:
        original = original_of(kind, tmp_path)
    for keep in (False, True):
        delivered, _ = made_from(
            original, metadata=policy, keep_location=keep, keep_serials=keep, rights=own or Rights()
        )

        found = complaints(delivered, ".jpg")
        assert not found - complaints(original.read_bytes(), original.suffix), found


@needs_data("photos")
@pytest.mark.parametrize("policy", ["whole", "rights"])
def test_exiftool_finds_nothing_wrong_with_camera_files(policy: str) -> None:
    """Those of the outside data."""
    for original in sorted((DATA / "photos").glob("*.jpg")) + sorted((DATA / "metadata").glob("*.jpg")):
        delivered, _ = made_from_copy(original, metadata=policy, rights=OWN)
        found = complaints(delivered, ".jpg") - complaints(original.read_bytes(), ".jpg")
        assert not found, (original.name, found)


def made_from_copy(original: Path, **changes: Any) -> tuple[bytes, Made]:
    """Return a delivery of a copy: nothing is written beside outside data."""
    with TemporaryDirectory() as folder:
        copy = Path(folder) / original.name
        copy.write_bytes(original.read_bytes())
        return made_from(copy, **changes)


MANDATORY = {
    "IFD0:XResolution": 72, "IFD0:YResolution": 72, "IFD0:ResolutionUnit": 2, "IFD0:YCbCrPositioning": 1,
    "ExifIFD:ExifVersion": "0300", "ExifIFD:ComponentsConfiguration": "1 2 3 0", "ExifIFD:FlashpixVersion": "0100",
    "ExifIFD:ColorSpace": 1,
}  # fmt: skip


def test_what_exif_makes_mandatory_is_there(tmp_path: Path) -> None:
    """Exif 3.0, 4.6.8; where there is Exif at all."""
    found = by_exiftool(made_from(jpeg(tmp_path / "x.jpg"), rights=OWN)[0])
    bare = by_exiftool(made_from(jpeg(tmp_path / "y.jpg"))[0])

    assert {name: found.get(name) for name in MANDATORY} == MANDATORY
    assert not any(name.startswith(("IFD0", "ExifIFD")) for name in bare)


def test_a_density_without_a_unit_stays(tmp_path: Path) -> None:
    """It is in inches then (Exif 3.0, 4.6.5.1); one axis alone is none."""
    both = {"Exif_Image_XResolution": "300/1", "Exif_Image_YResolution": "200/1"}
    for fields, expected in ((both, (300, 200, 2)), ({"Exif_Image_XResolution": "300/1"}, (72, 72, 2))):
        original = jpeg(tmp_path / "x.jpg", Exif_Image_Make="Kelp", **fields)
        with pyexiv2.Image(str(original)) as image:
            image.modify_exif({"Exif.Image.ResolutionUnit": None})
        found = by_exiftool(made_from(original)[0])

        names = ("XResolution", "YResolution", "ResolutionUnit")
        assert tuple(found[f"IFD0:{name}"] for name in names) == expected


@pytest.mark.parametrize(("stored", "version"), [("0230", "0230"), ("48 50 51 49", "0231"), ("220", "0220")])
def test_versions_are_four_letters(tmp_path: Path, stored: str, version: str) -> None:
    """Also of a file that has them as text or as another type."""
    original = jpeg(tmp_path / "x.jpg", Exif_Photo_ExifVersion="48 50 51 48")
    data = original.read_bytes()
    if " " not in stored:  # as text: type 2 in place of 7
        at = data.index(b"\x00\x90\x07\x00\x04\x00\x00\x000230")
        text = stored.encode().ljust(4, b"\0")
        data = data[: at + 2] + b"\x02\x00\x04\x00\x00\x00" + text + data[at + 12 :]
        original.write_bytes(data)
    else:
        with pyexiv2.Image(str(original)) as image:
            image.modify_exif({"Exif.Photo.ExifVersion": stored})

    delivered = made_from(original)[0]

    assert by_exiftool(delivered)["ExifIFD:ExifVersion"] == version
    assert by_exiftool(delivered)["ExifIFD:FlashpixVersion"] == "0100"
    with Image.open(io.BytesIO(delivered)) as picture:
        assert picture.getexif().get_ifd(0x8769)[0x9000] == version.encode()


@pytest.mark.parametrize("keep_location", [False, True])
def test_nothing_did_not_fit_that_is_not_there(tmp_path: Path, *, keep_location: bool) -> None:
    """A directory of positions with nothing in it (TIFF 6.0, section 2) is no loss."""
    entries = struct.pack("<HHII", 0x010F, 2, 10, 50) + struct.pack("<HHII", 0x8825, 4, 1, 62)
    tiff = b"II*\0\x08\0\0\0" + struct.pack("<H", 2) + entries + bytes(4)
    tiff = tiff.ljust(50, b"\0") + b"Kelpworks\0" + bytes(2) + struct.pack("<HI", 0, 0)
    original = jpeg(tmp_path / "x.jpg")
    data, exif = original.read_bytes(), b"Exif\0\0" + tiff
    original.write_bytes(data[:2] + struct.pack(">BBH", 0xFF, 0xE1, len(exif) + 2) + exif + data[2:])
    assert by_exiftool(original.read_bytes())["IFD0:Make"] == "Kelpworks"

    delivered, made = made_from(original, keep_location=keep_location)

    assert by_exiftool(delivered)["IFD0:Make"] == "Kelpworks"
    assert not {said.key for said in made.findings} & {"metadata-left-behind", "metadata-too-large"}


# Times


@pytest.mark.parametrize("time", [b"135926", b"135926-0600", b"135926+0000", b"000000+1400", b"135926.054-0600"])
def test_times_of_iptc_stay_to_the_octet(tmp_path: Path, time: bytes) -> None:
    """A zone only where one was given."""
    sets = data_set(2, 55, b"20260514") + data_set(2, 60, time) + data_set(2, 62, b"20260515") + data_set(2, 63, time)
    delivered, made = made_from(jpeg_with_blocks(tmp_path / "x.jpg", block(0x0404, sets)))

    for number in (60, 63):
        assert data_set(2, number, time) in delivered
    assert not made.doubts


def test_no_digest_is_left_of_what_has_changed(tmp_path: Path) -> None:
    """Neither beside IIM nor in XMP."""
    sets = data_set(2, 80, b"Ida Marrow")
    blocks = block(0x0404, sets) + block(0x0425, bytes(range(16)))
    original = jpeg_with_blocks(tmp_path / "x.jpg", blocks)
    write_by_exiftool(original, "-XMP-photoshop:LegacyIPTCDigest=A1B2", "-XMP-exif:NativeDigest=36864")

    for keep in (False, True):
        found = by_exiftool(made_from(original, keep_location=keep, keep_serials=keep)[0])
        assert not [name for name in found if "Digest" in name and not name.startswith("File:")]


@pytest.mark.parametrize("mark", ["MicroVideo", "MicroVideoOffset", "MotionPhoto", "MotionPhotoVersion"])
def test_no_mark_of_a_video_is_left(tmp_path: Path, mark: str) -> None:
    """Whatever else of a program's own fields travels."""
    camera = "http://ns.google.com/photos/1.0/camera/"
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(f"<c:{mark}>1</c:{mark}><c:Other>1</c:Other>", c=camera))

    delivered, _ = made_from(original, keep_location=True, keep_serials=True)

    assert mark.encode() not in delivered
    assert b"Other" in delivered


# Where in the frame


ORIENTED = {
    # A point 40 to the right and 30 down in a stored picture of 320 × 240, by Exif 3.0, 4.6.5.1: where row 0 and
    # column 0 of the stored picture are in the upright one.
    1: (40, 30), 2: (280, 30), 3: (280, 210), 4: (40, 210), 5: (30, 40), 6: (210, 40), 7: (210, 280), 8: (30, 280),
}  # fmt: skip


@pytest.mark.parametrize("orientation", ORIENTED)
def test_subjects_are_turned_and_scaled(tmp_path: Path, orientation: int) -> None:
    """In Exif and in XMP; the delivery has 120 pixels on its long edge, the original 320."""
    original = jpeg(
        tmp_path / "x.jpg", f"-IFD0:Orientation#={orientation}", "-ExifIFD:ExifImageWidth=320",
        "-ExifIFD:ExifImageHeight=240", "-ExifIFD:SubjectArea=40 30 80 40", "-ExifIFD:SubjectLocation=40 30",
        "-ExifIFD:FocalPlaneXResolution=4000", "-ExifIFD:FocalPlaneYResolution=2000",
        "-ExifIFD:FocalPlaneResolutionUnit#=3", "-XMP-exif:SubjectArea=40", "-XMP-exif:SubjectArea=30",
        "-XMP-exif:FocalPlaneXResolution=4000", "-XMP-exif:FocalPlaneYResolution=2000",
    )  # fmt: skip
    found = by_exiftool(made_from(original)[0])

    x, y = (round(value * 120 / 320) for value in ORIENTED[orientation])
    sides = (15, 30) if orientation > 4 else (30, 15)  # 80 × 40 pixels, a third and an eighth of 320 by 120
    plane = (750, 1500) if orientation > 4 else (1500, 750)
    numbers = [int(number) for number in found["ExifIFD:SubjectArea"].split()]
    assert numbers == pytest.approx([x, y, *sides], abs=1)
    assert [int(number) for number in found["ExifIFD:SubjectLocation"].split()] == pytest.approx([x, y], abs=1)
    assert [int(number) for number in found["XMP-exif:SubjectArea"]] == pytest.approx([x, y], abs=1)
    for group in ("ExifIFD", "XMP-exif"):
        assert (found[f"{group}:FocalPlaneXResolution"], found[f"{group}:FocalPlaneYResolution"]) == plane


def test_what_is_of_another_frame_is_left_out(tmp_path: Path) -> None:
    """A picture that was cropped or sized since: nobody knows where its subject is."""
    original = jpeg(
        tmp_path / "x.jpg", "-ExifIFD:ExifImageWidth=6000", "-ExifIFD:ExifImageHeight=4000",
        "-ExifIFD:SubjectArea=40 30 80 40", "-ExifIFD:FocalPlaneXResolution=4000",
        "-ExifIFD:FocalPlaneYResolution=2000", "-ExifIFD:FocalPlaneResolutionUnit#=3",
    )  # fmt: skip
    found = by_exiftool(made_from(original)[0])

    assert not [name for name in found if "Subject" in name or "FocalPlane" in name]


REGION = (
    '<mwg-rs:Regions rdf:parseType="Resource"><mwg-rs:AppliedToDimensions stDim:w="{w}" stDim:h="{h}" '
    'stDim:unit="pixel"/><mwg-rs:RegionList><rdf:Bag><rdf:li rdf:parseType="Resource"><mwg-rs:Name>Juno</mwg-rs:Name>'
    '<mwg-rs:Type>Face</mwg-rs:Type><mwg-rs:Area stArea:x="0.125" stArea:y="0.25" stArea:w="0.1" stArea:h="0.2" '
    'stArea:unit="normalized"/></rdf:li></rdf:Bag></mwg-rs:RegionList></mwg-rs:Regions>'
)
REGION_NAMES = {
    "mwg-rs": "http://www.metadataworkinggroup.com/schemas/regions/",
    "stDim": "http://ns.adobe.com/xap/1.0/sType/Dimensions#",
    "stArea": "http://ns.adobe.com/xmp/sType/Area#",
}  # fmt: skip
SHARES = {
    1: (0.125, 0.25, 0.1, 0.2), 2: (0.875, 0.25, 0.1, 0.2), 3: (0.875, 0.75, 0.1, 0.2), 4: (0.125, 0.75, 0.1, 0.2),
    5: (0.25, 0.125, 0.2, 0.1), 6: (0.75, 0.125, 0.2, 0.1), 7: (0.75, 0.875, 0.2, 0.1), 8: (0.25, 0.875, 0.2, 0.1),
}  # fmt: skip


@pytest.mark.parametrize("orientation", SHARES)
@pytest.mark.parametrize("of", ["stored", "upright", "cropped"])
def test_regions_are_turned_with_the_picture(tmp_path: Path, orientation: int, of: str) -> None:
    """They are of the stored picture, or of the upright one already; those of another one go, with a note."""
    turned = orientation > 4
    sizes = {"stored": (640, 480), "upright": (480, 640) if turned else (640, 480), "cropped": (500, 499)}
    width, height = sizes[of]
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(REGION.format(w=width, h=height), **REGION_NAMES))
    write_by_exiftool(original, f"-IFD0:Orientation#={orientation}")

    delivered, made = made_from(original)

    found, told = by_exiftool(delivered), [note.key for note in made.notes]
    if of == "cropped":
        assert "XMP-mwg-rs:RegionInfo" not in found
        assert "regions-left-out" in told
        return
    info = found["XMP-mwg-rs:RegionInfo"]
    area = info["RegionList"][0]["Area"]
    expected = SHARES[1] if of == "upright" and turned else SHARES[orientation]
    assert [float(area[name]) for name in "XYWH"] == pytest.approx(expected)
    size = {name: int(info["AppliedToDimensions"][name]) for name in "WH"}
    assert size == ({"W": 90, "H": 120} if turned else {"W": 120, "H": 90})
    assert "regions-left-out" not in told


def test_image_regions_in_pixels_are_left_out(tmp_path: Path) -> None:
    """IPTC's, which are not turned; shares of an upright picture stay."""
    for unit, orientation, stays in (("relative", 1, True), ("relative", 6, False), ("pixel", 1, False)):
        original = jpeg(
            tmp_path / "x.jpg", f"-IFD0:Orientation#={orientation}",
            f"-XMP-iptcExt:ImageRegion=[{{Name=Seal,RegionBoundary={{RbShape=rectangle,RbUnit={unit},RbX=0.1,RbY=0.1,"
            "RbW=0.2,RbH=0.2}}]",
        )  # fmt: skip
        delivered, made = made_from(original)

        assert ("XMP-iptcExt:ImageRegion" in by_exiftool(delivered)) == stays, (unit, orientation)
        assert ("regions-left-out" in [note.key for note in made.notes]) != stays


# One word for one matter


THREE = {"exif": "IFD0:ImageDescription", "xmp": "XMP-dc:Description", "iptc": "IPTC:Caption-Abstract"}


@pytest.mark.parametrize("own", [None, OWN], ids=["nobody's", "own"])
def test_descriptions_that_contradict_one_another_are_brought_together(tmp_path: Path, own: Rights | None) -> None:
    """Exif before XMP before IIM (MWG 2.0, section 5), with a note."""
    options = [f"-{name}={kind} seal" for kind, name in THREE.items()]
    for without, place, word in (((), "Exif", "exif seal"), (("exif",), "XMP", "xmp seal")):
        given = [option for option, kind in zip(options, THREE, strict=True) if kind not in without]
        delivered, made = made_from(jpeg(tmp_path / "x.jpg", *given), rights=own or Rights())

        found = by_exiftool(delivered)
        assert {found.get(name) for kind, name in THREE.items() if kind not in without} == {word}
        (told,) = [note.text for note in made.notes if note.key == "contradiction"]
        assert place in told
        assert not made.doubts


def test_a_digest_that_has_changed_makes_iptc_the_newer_one(tmp_path: Path) -> None:
    """MWG 2.0, 3.3.1: a program that knows only IIM has changed it since."""
    sets = data_set(2, 120, b"iptc seal")
    right = hashlib.md5(sets, usedforsecurity=False).digest()
    for digest, word in ((right, "xmp seal"), (bytes(range(16)), "iptc seal"), (bytes(16), "xmp seal")):
        original = jpeg_with_blocks(tmp_path / "x.jpg", block(0x0404, sets) + block(0x0425, digest))
        with pyexiv2.Image(str(original)) as image:  # leaves the blocks as they are
            image.modify_xmp({"Xmp.dc.description": {'lang="x-default"': "xmp seal"}})
        assert b"8BIM\x04\x25" in original.read_bytes()

        found = by_exiftool(made_from(original)[0])

        assert (found["XMP-dc:Description"], found["IPTC:Caption-Abstract"]) == (word, word)


def test_what_a_camera_calls_every_picture_is_no_description(tmp_path: Path) -> None:
    """The photographer's own caption counts, and there is no contradiction."""
    original = jpeg(
        tmp_path / "x.jpg", "-IFD0:Make=KELPWORKS", "-IFD0:ImageDescription=KELPWORKS DIGITAL CAMERA",
        "-XMP-dc:Description=Grey seal",
    )  # fmt: skip
    delivered, made = made_from(original)

    found = by_exiftool(delivered)
    assert (found["IFD0:ImageDescription"], found["XMP-dc:Description"]) == ("Grey seal", "Grey seal")
    assert "contradiction" not in [note.key for note in made.notes]
    assert made.about.description == "Grey seal"


@pytest.mark.parametrize("exif", ["S?lhund p? sk?r", "Sælhund på skær".encode("cp1250", "replace").decode("latin-1")])
def test_lost_letters_are_given_back(tmp_path: Path, exif: str) -> None:
    """Exif does not say in which letters it is: XMP, which does, has them."""
    original = jpeg(tmp_path / "x.jpg", "-XMP-dc:Description=Sælhund på skær")
    with pyexiv2.Image(str(original)) as image:
        image.modify_exif({"Exif.Image.ImageDescription": exif}, encoding="latin-1")

    delivered, made = made_from(original)

    assert by_exiftool(delivered)["IFD0:ImageDescription"] == "Sælhund på skær"
    assert "contradiction" not in [note.key for note in made.notes]


@pytest.mark.parametrize(
    ("exif", "xmp", "date", "time", "is_contradiction"),
    [
        ("2026:05:14 04:12:00", "2026-05-14T04:12:00", "2026:05:14", "04:12:00", False),
        ("2026:05:14 04:12:00", "2026-05-14T04:12:00+01:00", "2026:05:14", "04:12:00+01:00", False),
        ("2026:05:14 04:12:00", "2026-05-14T03:12:00Z", "2026:05:14", "04:12:00", False),  # a zone explains it
        ("2026:05:14 04:12:00", "2026-05", "2026:05:14", "04:12:00", False),
        ("2026:05:14 04:12:00", "2025-01-02T04:12:00", "2026:05:14", "04:12:00", True),
        ("2026:05:14 04:12:00", "2026-05-14T04:12:00", "2021:05:14", "04:12:00", True),
    ],
)
def test_dates_agree(tmp_path: Path, exif: str, xmp: str, date: str, time: str, *, is_contradiction: bool) -> None:
    """Those that say the same stay as they are; of others Exif's counts."""
    original = jpeg(
        tmp_path / "x.jpg", f"-ExifIFD:DateTimeOriginal={exif}", f"-XMP-photoshop:DateCreated={xmp}",
        f"-IPTC:DateCreated={date}", f"-IPTC:TimeCreated={time}",
    )  # fmt: skip
    before = by_exiftool(original.read_bytes())

    delivered, made = made_from(original)

    found = by_exiftool(delivered)
    assert ("contradiction" in [note.key for note in made.notes]) == is_contradiction
    names = ("ExifIFD:DateTimeOriginal", "XMP-photoshop:DateCreated", "IPTC:DateCreated", "IPTC:TimeCreated")
    if not is_contradiction:
        assert {name: found.get(name) for name in names} == {name: before.get(name) for name in names}
    else:
        assert str(found["XMP-photoshop:DateCreated"]).startswith("2026:05:14")
        assert found["IPTC:DateCreated"] == "2026:05:14"


def test_authors_agree_without_a_configured_one(tmp_path: Path) -> None:
    """As the guidelines say; a place that says nothing stays empty."""
    original = jpeg(tmp_path / "x.jpg", "-IFD0:Artist=Ida Marrow", "-IPTC:By-line=Juno Pell")

    found = by_exiftool(made_from(original)[0])

    assert (found["IFD0:Artist"], found["IPTC:By-line"]) == ("Ida Marrow", "Ida Marrow")
    assert "XMP-dc:Creator" not in found
