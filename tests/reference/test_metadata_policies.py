"""Each metadata policy over originals that carry everything, read by exiftool and searched for in the raw bytes."""

from __future__ import annotations

import functools
import io
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pyexiv2
import pytest
import tifffile
from PIL import Image

from lanternslide.records import Made, Recipe, Rights
from tests.support.chain import deliver, recipe
from tests.support.exiftool import ask_exiftool, by_exiftool, needs_exiftool, write_by_exiftool
from tests.support.outside import DATA, needs_data
from tests.support.pictures import landscape

pytestmark = needs_exiftool

# What identifies the author and the rights, and what the picture is of: IPTC Photo Metadata Standard 2023.2 and PLUS.
RIGHTS = {
    "IFD0:Artist": "Ida Marrow",
    "IFD0:Copyright": "© 2026 Ida Marrow",
    "IFD0:ImageDescription": "Grey seal at dawn, тюлень",
    "IPTC:By-line": "Ida Marrow",
    "IPTC:By-lineTitle": "Photographer",
    "IPTC:CopyrightNotice": "© 2026 Ida Marrow",
    "IPTC:Credit": "Ida Marrow / Isles Pictures",
    "IPTC:SpecialInstructions": "Do not crop",
    "IPTC:ObjectName": "Grey seal",
    "IPTC:Headline": "Dawn",
    "IPTC:Caption-Abstract": "Grey seal at dawn, тюлень",
    "IPTC:Keywords": ["seal", "海豹"],
    "XMP-dc:Creator": ["Ida Marrow"],
    "XMP-dc:Rights": "© 2026 Ida Marrow",
    "XMP-dc:Title": "Grey seal",
    "XMP-dc:Description": "Grey seal at dawn, тюлень",
    "XMP-dc:Subject": ["seal", "海豹"],
    "XMP-photoshop:Credit": "Ida Marrow / Isles Pictures",
    "XMP-xmpRights:UsageTerms": "No use without licence",
    "XMP-xmpRights:WebStatement": "https://skerrow.example/rights",
    "XMP-xmpRights:Marked": True,
    "XMP-iptcCore:AltTextAccessibility": "A grey seal on a rock",
    "XMP-iptcCore:CreatorContactInfo": {"CiAdrCity": "Harbourtown", "CiEmailWork": "ida@skerrow.example"},
    "XMP-plus:Licensor": [{"LicensorCity": "Harbourtown", "LicensorName": "Isles Pictures"}],
}
"""Field by field; the cities are where the author and the licensor can be reached."""

REST = {
    "IFD0:Make": "Kelpworks",
    "ExifIFD:DateTimeOriginal": "2026:05:14 04:12:00",
    "XMP-xmp:Rating": 4,
}
"""What else travels with `whole`."""

SERIALS = {
    "ExifIFD:SerialNumber": "SN-4711-9923",
    "ExifIFD:LensSerialNumber": "LS-3345-777",
    "XMP-aux:SerialNumber": "SN-4711-9923",
    "XMP-exifEX:LensSerialNumber": "LS-3345-777",
    "IFD0:HostComputer": "idas-laptop",
    "ExifIFD:OwnerName": "Juno Pell",
}
"""What ties pictures to one camera or computer."""

PLACES = {
    "GPS:GPSLatitude": 58.483,
    "IPTC:City": "Skerrow Town",
    "IPTC:Sub-location": "Seal Cove",
    "IPTC:Province-State": "North Isle",
    "IPTC:Country-PrimaryLocationName": "Skerrow Isles",
    "IPTC:Country-PrimaryLocationCode": "SKI",
    "XMP-exif:GPSLatitude": 58.483,
    "XMP-photoshop:City": "Skerrow Town",
    "XMP-photoshop:State": "North Isle",
    "XMP-photoshop:Country": "Skerrow Isles",
    "XMP-iptcCore:Location": "Seal Cove",
    "XMP-iptcCore:CountryCode": "SKI",
    "XMP-iptcExt:LocationShown": [{"City": "Skerrow Town", "WorldRegion": "Far North"}],
    "XMP-iptcExt:LocationCreated": [{"Sublocation": "Seal Cove"}],
}

NEVER = {
    "XMP-xmpMM:DocumentID": "xmp.did:12345",
    "XMP-xmpMM:HistoryChanged": ["/home/ida/secret/raw.psd"],
    "XMP-photoshop:DocumentAncestors": ["adobe:docid:99"],
    "XMP-crs:RawFileName": "secret-raw.dng",
    "IFD0:DocumentName": "/home/ida/secret/name.tif",
}

SECRETS = (b"SN-4711-9923", b"LS-3345-777")
PLACE_BYTES = (b"Skerrow Town", b"Seal Cove", b"North Isle", b"Skerrow Isles", b"SKI", b"Far North", b"58,28", b"GPS")
NEVER_BYTES = (b"/home/ida", b"xmp.did", b"docid", b"secret")


def thumbnail() -> bytes:
    """Return the JPEG of a small picture that is easy to tell apart."""
    stream = io.BytesIO()
    Image.fromarray(np.random.default_rng(7).integers(0, 255, (60, 80, 3), np.uint8)).save(stream, "JPEG")
    return stream.getvalue()


def original_of(kind: str, folder: Path) -> Path:
    """Write an original that carries everything."""
    path = folder / f"grey-seal.{kind}"
    path.write_bytes(_with_everything(kind))
    return path


@functools.cache
def _with_everything(kind: str) -> bytes:
    """Return a picture that carries everything, by exiftool: another program than the one under test."""
    with TemporaryDirectory() as folder:
        return _written(kind, Path(folder)).read_bytes()


def _written(kind: str, folder: Path) -> Path:
    path = folder / f"grey-seal.{kind}"
    picture = landscape(320, 240)
    if kind == "tif":
        pixels = np.asarray(picture).astype(np.uint16) * 257
        tifffile.imwrite(path, pixels, photometric="rgb", metadata=None, compression="deflate")
    else:
        picture.save(path, quality=92)
    lines = ["-IFD0:Orientation#=6", "-GPS:GPSLatitudeRef=N"]
    for fields in (RIGHTS, REST, SERIALS, PLACES, NEVER):
        for name, value in fields.items():
            lines += _arguments(name, value)
    small = folder / "small.jpg"
    small.write_bytes(thumbnail())
    options = ["-struct", "-codedcharacterset=utf8", "-charset", "iptc=utf8"]
    # Exif in TIFF has no place for a thumbnail, and exiftool writes none into PNG.
    picture_within = [f"-ThumbnailImage<={small}"] if kind == "jpg" else []
    write_by_exiftool(path, *options, *lines, *picture_within)
    with pyexiv2.Image(str(path)) as image:  # the IPTC/PLUS preference is younger than Debian's exiftool
        image.modify_xmp({"Xmp.plus.DataMining": "http://ns.useplus.org/ldf/vocab/DMI-PROHIBITED"})
    return path


def _arguments(name: str, value: Any) -> list[str]:
    if isinstance(value, list) and isinstance(value[0], str):
        return [f"-{name}={item}" for item in value]
    if isinstance(value, list):
        return [f"-{name}={_struct(value[0])}"]
    return [f"-{name}={_struct(value)}" if isinstance(value, dict) else f"-{name}={value}"]


def _struct(value: dict[str, str]) -> str:
    return "{" + ",".join(f"{key}={text}" for key, text in value.items()) + "}"


def made_with(original: Path, **changes: Any) -> tuple[bytes, Made]:
    """Return a delivery of 120 pixels of an original, and what was said of it."""
    how: Recipe = replace(recipe(120), **changes)
    return deliver(original, how)


KINDS = pytest.mark.parametrize("kind", ["jpg", "tif", "png"])
LAXER = {"GPS:GPSLatitude": 1e-4, "XMP-exif:GPSLatitude": 1e-4}


def assert_has(found: dict[str, Any], fields: dict[str, Any]) -> None:
    """Every field is there with its value."""
    for name, value in fields.items():
        expected = pytest.approx(value, abs=LAXER[name]) if name in LAXER else value
        assert found.get(name) == expected, name


@KINDS
@pytest.mark.parametrize("keep_location", [False, True])
@pytest.mark.parametrize("keep_serials", [False, True])
@pytest.mark.parametrize("policy", ["whole", "rights"])
def test_what_travels_is_as_the_policy_says(
    tmp_path: Path, kind: str, policy: str, *, keep_location: bool, keep_serials: bool
) -> None:
    """Field by field: rights always, the rest with `whole`, places and serial numbers where asked for."""
    jpeg, made = made_with(
        original_of(kind, tmp_path), metadata=policy, keep_location=keep_location, keep_serials=keep_serials
    )

    found = by_exiftool(jpeg)

    assert_has(found, RIGHTS)
    assert "DMI-PROHIBITED" in jpeg.decode("latin-1")
    if policy == "whole":
        assert_has(found, REST)
    else:
        assert not [name for name in REST if name in found]
    if keep_serials and policy == "whole":
        assert_has(found, SERIALS)
    else:
        assert not [name for name in SERIALS if name in found]
        assert not [text for text in SERIALS.values() if text.encode() in jpeg]
    if keep_location:
        assert_has(found, PLACES)
    else:
        assert not [name for name in found if name in PLACES or "GPS" in name]
    assert_has(found, {
        "IFD0:Orientation": 1, "ExifIFD:ColorSpace": 1, "ExifIFD:ExifImageWidth": 90, "ExifIFD:ExifImageHeight": 120,
        "File:ImageWidth": 90, "File:ImageHeight": 120, "ICC-header:ColorSpaceData": "RGB ",
    })  # fmt: skip
    assert [doubt.key for doubt in made.findings if "left-behind" in doubt.key] == []
    with Image.open(io.BytesIO(jpeg)) as picture:  # another independent reader
        exif = picture.getexif()
        details = exif.get_ifd(0x8769)
        assert (exif[0x013B], exif[0x0112]) == ("Ida Marrow", 1)
        assert (details[0xA001], details[0xA002], details[0xA003]) == (1, *picture.size)
        assert bool(exif.get_ifd(0x8825)) == keep_location
        assert not exif.get_ifd(1)


@KINDS
@pytest.mark.parametrize("policy", ["whole", "rights", "bare"])
def test_no_byte_of_what_is_taken_out_is_left(tmp_path: Path, kind: str, policy: str) -> None:
    """A search of the raw file: no place, no path, no history, no thumbnail, no serial number."""
    original = original_of(kind, tmp_path)
    small = thumbnail()[-300:]
    before = original.read_bytes()
    assert kind != "jpg" or small in before
    assert b"Seal Cove" in before

    jpeg, _ = made_with(original, metadata=policy)

    for secret in (*PLACE_BYTES, *NEVER_BYTES, *SECRETS):
        assert secret not in jpeg, secret
    assert small not in jpeg
    assert jpeg.count(b"\xff\xd8\xff") == 1


@KINDS
def test_bare_leaves_the_profile_alone_and_says_that_rights_are_gone(tmp_path: Path, kind: str) -> None:
    """No Exif, IPTC or XMP; upright; a note names what was left out."""
    jpeg, made = made_with(original_of(kind, tmp_path), metadata="bare")

    found = by_exiftool(jpeg)

    groups = {name.split(":")[0] for name in found if not name.startswith("ICC")}
    assert groups == {"SourceFile", "ExifTool", "System", "File", "JFIF", "Composite"}
    assert (found["File:ImageWidth"], found["File:ImageHeight"]) == (90, 120)
    assert "rights-left-behind" in [doubt.key for doubt in made.findings]


def test_bare_has_no_doubt_where_there_were_no_rights(tmp_path: Path) -> None:
    """Nothing is missed that was not there."""
    path = tmp_path / "x.jpg"
    landscape(320, 240).save(path)

    _, made = made_with(path, metadata="bare")

    assert "rights-left-behind" not in [doubt.key for doubt in made.findings]


WRITABLE = sorted({"XMP-iptcExt", "XMP-xmp", "XMP-cc", "XMP-aux", "XMP-exifEX"} | {
    name.split(":")[0] for name in RIGHTS if name.startswith(("XMP", "IPTC"))
})  # fmt: skip
ABOUT_THE_FILE = {
    "IPTC:RasterizedCaption", "IPTC:ObjectPreviewData", "XMP-xmp:Thumbnails", "XMP-photoshop:History",
    "XMP-photoshop:DocumentAncestors", "XMP-photoshop:ICCProfileName", "XMP-dc:Format", "XMP-x:XMPToolkit",
    "XMP-xmp:PageInfo", "XMP-photoshop:EmbeddedXMPDigest", "XMP-photoshop:LegacyIPTCDigest",
    "XMP-photoshop:SidecarForExtension", "XMP-iptcExt:ImageRegion", "XMP-xmp:BaseURL", "XMP-photoshop:CameraProfiles",
}  # fmt: skip
"""Previews, history, digests, regions without a unit, and what the file is: not of the delivery."""

AGREED = {
    "IPTC:By-line": "XMP-dc:Creator", "IPTC:CopyrightNotice": "XMP-dc:Rights",
    "IPTC:Caption-Abstract": "XMP-dc:Description",
}  # fmt: skip
"""Where XMP is trusted more, if both say something else (MWG 2.0, section 5)."""


def test_every_field_of_the_standards_arrives(tmp_path: Path) -> None:
    """All that exiftool can write of IPTC, PLUS, Dublin Core and XMP rights into text fields, some 240, unchanged."""
    original = tmp_path / "x.jpg"
    landscape(320, 240).save(original)
    lines = []
    for group in WRITABLE:
        listed = ask_exiftool("-listw", f"-{group}:All")
        names = [name for line in listed.splitlines()[1:] for name in line.split()]
        lines += [f"-{group}:{name}={number} {name} é海" for number, name in enumerate(names)]
    arguments = tmp_path / "arguments"
    arguments.write_text("\n".join(lines), "utf-8")
    options = ["-q", "-q", "-m", "-overwrite_original", "-codedcharacterset=utf8", "-charset", "iptc=utf8"]
    subprocess.run(["exiftool", *options, "-@", str(arguments), str(original)], capture_output=True, check=False)
    before = {
        name: value for name, value in by_exiftool(original.read_bytes()).items() if name.startswith(("XMP", "IPTC"))
    }
    assert len(before) > 200

    jpeg, made = made_with(original, keep_location=True, keep_serials=True)

    found = by_exiftool(jpeg)
    assert {name for name, value in before.items() if found.get(name) != value} <= ABOUT_THE_FILE | AGREED.keys()
    assert all(found[iptc] in (found[xmp], *found[xmp]) for iptc, xmp in AGREED.items())
    assert [doubt.key for doubt in made.findings if "left-behind" in doubt.key] == []


def spelt(text: str) -> str:
    """Return bytes as the library takes them."""
    return " ".join(str(byte) for byte in text.encode())


@pytest.mark.parametrize(("make", "key"), [("Panasonic", "Exif.Panasonic.City"), ("Kelpworks", "Exif.Photo.MakerNote")])
@pytest.mark.parametrize("keep_location", [False, True])
def test_makers_notes_hide_no_place(tmp_path: Path, make: str, key: str, *, keep_location: bool) -> None:
    """A note of the camera's maker goes as a whole, whether it can be read or not, unless the location is kept."""
    original = tmp_path / "x.jpg"
    landscape(320, 240).save(original)
    with pyexiv2.Image(str(original)) as image:
        image.modify_exif(
            {"Exif.Image.Make": make, "Exif.Photo.LensModel": "Skerry 50", key: spelt("Skerrow Town\0\0")}
        )
    assert b"Skerrow Town" in original.read_bytes()

    jpeg, _ = made_with(original, keep_location=keep_location, keep_serials=keep_location)

    assert (b"Skerrow Town" in jpeg) == keep_location
    assert_has(by_exiftool(jpeg), {"IFD0:Make": make, "ExifIFD:LensModel": "Skerry 50"})


def test_fields_without_a_name_hide_no_place(tmp_path: Path) -> None:
    """XMP under a tag of TIFF that nobody knows, as a careless program may leave it, does not travel."""
    original = original_of("tif", tmp_path)
    data = original.read_bytes()
    tag = (700).to_bytes(2, "little") + (1).to_bytes(2, "little")  # XMLPacket, of bytes (TIFF 6.0, section 2)
    assert data.count(tag) == 1
    original.write_bytes(data.replace(tag, (64_000).to_bytes(2, "little") + (1).to_bytes(2, "little")))

    jpeg, _ = made_with(original)

    assert not [place for place in PLACE_BYTES if place in jpeg]


def test_text_that_swallows_a_place_is_left_behind(tmp_path: Path) -> None:
    """A wrong length in IPTC makes one field run over the next: that is damage, which is named."""
    original = original_of("jpg", tmp_path)
    data = original.read_bytes()
    before = b"\x1c\x02\x55\x00\x0cPhotographer"
    assert before in data
    original.write_bytes(data.replace(before, b"\x1c\x02\x55\x00\x40Photographer"))

    jpeg, made = made_with(original)

    assert not [place for place in PLACE_BYTES if place in jpeg]
    assert "metadata-left-behind" in [doubt.key for doubt in made.findings]


# More than 64 KB


@KINDS
def test_long_xmp_travels_whole(tmp_path: Path, kind: str) -> None:
    """Text of 200 KB needs an extension in a JPEG: an independent reader joins it, and the rights stand first."""
    original = original_of(kind, tmp_path)
    words = " ".join(f"skerry{number}" for number in range(20_000))
    (tmp_path / "long").write_text(words)
    taken = f"-XMP-photoshop:Instructions<={tmp_path / 'long'}"
    write_by_exiftool(original, taken)

    jpeg, made = made_with(original)

    found = by_exiftool(jpeg)
    assert_has(found, {"XMP-photoshop:Instructions": words, **RIGHTS})
    assert not [name for name in found if name in PLACES]
    assert [doubt.key for doubt in made.findings if "left-behind" in doubt.key] == []
    standard = jpeg[jpeg.index(b"http://ns.adobe.com/xap/1.0/\0") :]
    assert b"skerrow.example/rights" in standard[:65_000]


@needs_data("metadata")
def test_an_extension_of_another_program_is_read(tmp_path: Path) -> None:
    """The extended XMP in exiftool's own test file arrives (../shared/data/metadata)."""
    original = tmp_path / "x.jpg"
    shutil.copy(DATA / "metadata" / "ExtendedXMP.jpg", original)

    jpeg, _ = made_with(original)

    found = by_exiftool(jpeg)
    assert_has(found, {"XMP-pdf:Author": "PhilToo", "XMP-pdf:Producer": "Just ExifTool again"})


# The photographer's own data

OWN = Rights(creator="Ída Marrow", copyright="© {year} Ída Marrow, скала", contact="ida@skerrow.example")


def plain(folder: Path, **tags: str) -> Path:
    """Write a JPEG with these tags of exiftool's, and nothing else."""
    path = folder / "plain.jpg"
    landscape(320, 240).save(path)
    if tags:
        lines = [f"-{name.replace('__', ':')}={value}" for name, value in tags.items()]
        write_by_exiftool(path, *lines)
    return path


def authors(found: dict[str, Any]) -> tuple[Any, ...]:
    """Return who made a picture, by each kind of metadata."""
    return found.get("IFD0:Artist"), found.get("XMP-dc:Creator"), found.get("IPTC:By-line")


@pytest.mark.parametrize("policy", ["whole", "rights"])
def test_own_data_fill_what_is_missing(tmp_path: Path, policy: str) -> None:
    """Exif and XMP say the same, in UTF-8, with the year of capture; IIM is not begun where there was none."""
    original = plain(tmp_path, DateTimeOriginal="2019:03:02 05:00:00")

    jpeg, made = made_with(original, metadata=policy, rights=OWN)

    found = by_exiftool(jpeg)
    assert authors(found) == ("Ída Marrow", ["Ída Marrow"], None)
    assert found["IFD0:Copyright"] == found["XMP-dc:Rights"] == "© 2019 Ída Marrow, скала"
    assert found["XMP-iptcCore:CreatorContactInfo"] == {"CiEmailWork": "ida@skerrow.example"}
    assert "year-of-file" not in [doubt.key for doubt in made.findings]


def test_what_an_original_says_stays_and_is_said_everywhere(tmp_path: Path) -> None:
    """Somebody else's name in one kind of metadata is not replaced, but carried into the others."""
    original = plain(tmp_path, **{"IPTC__By-line": "Juno Pell", "IPTC__CopyrightNotice": "© Juno Pell"})

    jpeg, made = made_with(original, rights=OWN)

    found = by_exiftool(jpeg)
    assert authors(found) == ("Juno Pell", ["Juno Pell"], "Juno Pell")
    assert (found["IFD0:Copyright"], found["XMP-dc:Rights"], found["IPTC:CopyrightNotice"]) == ("© Juno Pell",) * 3
    assert "IPTC:Contact" not in found
    assert b"skerrow.example" not in jpeg
    (told,) = [doubt.text for doubt in made.findings if doubt.key == "anothers-picture"]
    assert "by-line: Juno Pell" in told


def test_own_data_replace_what_is_there_where_asked(tmp_path: Path) -> None:
    """With `override_rights` everything says the photographer's own, in all three kinds."""
    original = original_of("jpg", tmp_path)

    jpeg, _ = made_with(original, rights=replace(OWN, contact="https://skerrow.example", override=True))

    found = by_exiftool(jpeg)
    assert authors(found) == ("Ída Marrow", ["Ída Marrow"], "Ída Marrow")
    notice = "© 2026 Ída Marrow, скала"
    assert (found["IFD0:Copyright"], found["XMP-dc:Rights"], found["IPTC:CopyrightNotice"]) == (notice,) * 3
    assert found["XMP-iptcCore:CreatorContactInfo"] == {"CiUrlWork": "https://skerrow.example"}
    assert found["IPTC:Keywords"] == ["seal", "海豹"]


def test_a_picture_without_a_date_gets_the_year_of_its_file_and_a_doubt(tmp_path: Path) -> None:
    """The year of capture is not known: that is said."""
    original = plain(tmp_path)

    jpeg, made = made_with(original, rights=OWN)

    assert by_exiftool(jpeg)["IFD0:Copyright"].startswith("© 20")
    assert "year-of-file" in [doubt.key for doubt in made.findings]


@needs_data("metadata")
def test_kinds_that_disagree_are_read_in_the_order_of_the_guidelines(tmp_path: Path) -> None:
    """The Metadata Working Group's order, on exiftool's test file, whose right values are marked (MWG_2.out)."""
    original = tmp_path / "x.jpg"
    shutil.copy(DATA / "metadata" / "MWG.jpg", original)

    jpeg, _ = made_with(original, rights=OWN)

    found = by_exiftool(jpeg)
    names = ["RIGHT1of2-EXIF-Creator", "RIGHT2of2-EXIF-Creator"]
    assert authors(found) == ("; ".join(names), names, names)
    copyrights = found["IFD0:Copyright"], found["XMP-dc:Rights"], found["IPTC:CopyrightNotice"]
    assert copyrights == ("RIGHT-XMP-Copyright",) * 3


def test_letters_of_an_old_encoding_become_utf_8(tmp_path: Path) -> None:
    """IPTC and Exif in Latin-1, as older programs wrote them, are the same letters in UTF-8 afterwards."""
    original = tmp_path / "x.jpg"
    landscape(320, 240).save(original)
    with pyexiv2.Image(str(original)) as image:
        image.modify_iptc({"Iptc.Application2.Byline": ["Ída Märrow"]}, encoding="latin-1")
        image.modify_exif({"Exif.Image.Artist": "Ída Märrow"}, encoding="latin-1")

    jpeg, _ = made_with(original, rights=OWN)

    assert authors(by_exiftool(jpeg)) == ("Ída Märrow", ["Ída Märrow"], "Ída Märrow")
