"""Somebody else is found wherever they stand: in odd blocks, in other scripts, in terms and licences."""

from __future__ import annotations

import struct
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import numpy as np
import pyexiv2
import pytest
import tifffile

from lanternslide.metadata.files.containers import segments
from lanternslide.records import Made, Rights
from tests.reference.test_metadata_policies import made_with
from tests.reference.test_metadata_reading import exif_of, itxt
from tests.support.exiftool import by_exiftool, needs_exiftool
from tests.support.iptc import SIGNATURE, block, data_set, jpeg_with_blocks, png_with_chunks, raw_profile
from tests.support.pictures import landscape
from tests.support.xmp import EXTENSION, HEAD, jpeg_with_xmp, packet

pytestmark = needs_exiftool

OWN = Rights(creator="Anna Berg", copyright="© {year} Anna Berg", contact="anna@berg.example")
BY = "<dc:creator><rdf:Seq><rdf:li>{}</rdf:li></rdf:Seq></dc:creator>"
PETER = BY.format("Peter Other")
CC = "http://creativecommons.org/ns#"
EXT = "http://iptc.org/std/Iptc4xmpExt/2008-02-29/"


def assert_nothing_of_ours(jpeg: bytes, made: Made) -> None:
    """Check that nothing was added, and that a doubt says why."""
    for text in ("Anna Berg", "anna@berg.example"):
        assert text.encode() not in jpeg
    assert {said.key for said in made.doubts} & {"anothers-picture", "rights-unknown"}


def segment(marker: int, content: bytes) -> bytes:
    """Return a segment of a JPEG."""
    return struct.pack(">BBH", 0xFF, marker, len(content) + 2) + content


def jpeg_with(path: Path, *segments: bytes, **exif: str) -> Path:
    """Write a JPEG with further segments behind its beginning, and Exif of the library's making before them."""
    landscape(320, 240).save(path, "JPEG")
    if exif:
        with pyexiv2.Image(str(path)) as image:
            image.modify_exif({f"Exif.{key.replace('_', '.')}": text for key, text in exif.items()})
    data = path.read_bytes()
    path.write_bytes(data[:2] + b"".join(segments) + data[2:])
    return path


def tiff_with(path: Path, *tags: tuple[int, int, int, object, bool]) -> Path:
    """Write a TIFF with further tags."""
    tifffile.imwrite(path, np.asarray(landscape(320, 240)), photometric="rgb", metadata=None, extratags=list(tags))
    return path


def exif_with(tag: int, kind: int, value: bytes, amount: int | None = None) -> bytes:
    """Return a segment of Exif with one tag (TIFF 6.0, section 2), behind which its value stands."""
    entry = struct.pack("<HHII", tag, kind, amount or len(value), 26)
    return segment(0xE1, b"Exif\0\0II*\0\x08\0\0\0" + struct.pack("<H", 1) + entry + bytes(4) + value)


def cut_tiff(folder: Path) -> Path:
    """Write a TIFF whose XMP lies beyond the end of the file."""
    path = tiff_with(folder / "x.tif", (700, 1, 400, packet(PETER).encode()[:400], True))
    data = path.read_bytes()
    at = data.index(struct.pack("<HHI", 700, 1, 400))
    path.write_bytes(data[: at + 8] + struct.pack("<I", 10**9) + data[at + 12 :])
    return path


IIM = data_set(2, 80, b"Peter Other")
PLACES: dict[str, Callable[[Path], Path]] = {
    "XMP in Exif": lambda f: jpeg_with(f / "x.jpg", exif_with(700, 1, packet(PETER).encode())),
    "IPTC in Exif": lambda f: jpeg_with(f / "x.jpg", exif_with(33723, 7, IIM)),
    "a second Exif": lambda f: jpeg_with(f / "x.jpg", segment(0xE1, exif_of(Artist="Peter Other")), Image_Make="Kelp"),
    "a second packet": lambda f: jpeg_with(
        f / "x.jpg",
        *(segment(0xE1, HEAD + packet(BY.format(name)).encode()) for name in ("Ida Brae", "Peter Other")),
    ),
    "a packet behind a damaged one": lambda f: jpeg_with(
        f / "x.jpg", segment(0xE1, HEAD + b"<x:xmpmeta"), segment(0xE1, HEAD + packet(PETER).encode())
    ),
    "a packet before a damaged one": lambda f: jpeg_with(
        f / "x.jpg", segment(0xE1, HEAD + packet("").encode()), segment(0xE1, HEAD + b"<x:xmpmeta")
    ),
    "more packets than are read": lambda f: jpeg_with(
        f / "x.jpg",
        *(segment(0xE1, HEAD + packet(f"<dc:title>Skerry {n}</dc:title>").encode()) for n in range(20)),
        segment(0xE1, HEAD + packet(PETER).encode()),
    ),
    "an extension that nothing mentions": lambda f: jpeg_with(
        f / "x.jpg", segment(0xE1, HEAD + packet("").encode()), segment(0xE1, EXTENSION + bytes(40) + PETER.encode())
    ),
    "damaged XMP in Exif": lambda f: jpeg_with(f / "x.jpg", exif_with(700, 1, b"<x:xmpmeta" + bytes(20))),
    "damaged IPTC in Exif": lambda f: jpeg_with(f / "x.jpg", exif_with(33723, 7, IIM[:-4])),
    "behind stray bytes": lambda f: jpeg_with(
        f / "x.jpg", segment(0xFE, b"skerry") + b"stray\xff\0", segment(0xE1, HEAD + packet(PETER).encode())
    ),
    "a texts' photographer": lambda f: png_with_chunks(f / "x.png", (b"tEXt", b"Photographer\0Peter Other")),
    "a text chunk's raw Exif behind Exif": lambda f: png_with_chunks(
        f / "x.png", (b"eXIf", exif_of(Make="Kelp").removeprefix(b"Exif\0\0")),
        raw_profile("exif", exif_of(Artist="Peter Other")),
    ),
    "two fields of one name": lambda f: jpeg_with_xmp(
        f / "x.jpg",
        packet("<a:author>Peter Other</a:author><b:author>Kelp</b:author>", a="http://a.example/", b="http://b.example/"),
    ),
    "a name in another language": lambda f: jpeg_with_xmp(
        f / "x.jpg",
        packet(
            "<e:Creator><rdf:Bag><rdf:li rdf:parseType='Resource'><e:Name><rdf:Alt><rdf:li xml:lang='x-default'>"
            "Peter Other</rdf:li></rdf:Alt></e:Name></rdf:li></rdf:Bag></e:Creator>", e=EXT,
        ),
    ),
    "a letter that only marks": lambda f: jpeg_with(f / "x.jpg", Image_Artist="\u0301Peter Other"),
    "a path beside a name": lambda f: jpeg_with_blocks(
        f / "x.jpg", block(0x0404, IIM + data_set(2, 80, b"/home/peter/x"))
    ),
    "a path for a name": lambda f: jpeg_with(f / "x.jpg", Image_Artist="file: Peter Other"),
    "two RDF": lambda f: jpeg_with_xmp(
        f / "x.jpg",
        packet("").replace(
            "</x:xmpmeta>",
            '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="" '
            f'xmlns:dc="http://purl.org/dc/elements/1.1/">{PETER}</rdf:Description></rdf:RDF></x:xmpmeta>',
        ),
    ),
    "a node of its own type": lambda f: jpeg_with_xmp(
        f / "x.jpg",
        packet("").replace("<rdf:Desc", f'<c:Work xmlns:c="{CC}"><c:license/></c:Work><rdf:Desc', 1),
    ),
    "an extension that contradicts": lambda f: jpeg_with_xmp(
        f / "x.jpg", packet(BY.format("ANNA BERG") + NOTE), packet(PETER)
    ),
    "XMP as a raw profile": lambda f: png_with_chunks(
        f / "x.png", raw_profile("APP1", HEAD + packet(PETER).encode())
    ),
    "IPTC as a raw profile": lambda f: png_with_chunks(
        f / "x.png", raw_profile("APP13", SIGNATURE + block(0x0404, IIM))
    ),
    "a TIFF cut short": cut_tiff,
    "IPTC as short numbers": lambda f: tiff_with(
        f / "x.tif", (33723, 3, len(IIM) // 2, struct.unpack(f"<{len(IIM) // 2}H", IIM[: len(IIM) // 2 * 2]), True)
    ),
    "blocks that end early": lambda f: jpeg_with_blocks(f / "x.jpg", b"XXXXXXXXXXXX8BIM"),
    "a texts' artist": lambda f: png_with_chunks(f / "x.png", (b"iTXt", itxt("Artist", "Peter Other"))),
    "a thumbnail's artist": lambda f: jpeg_with(f / "x.jpg", Thumbnail_Artist="Peter Other", Image_Make="Kelp"),
    "the owner of the camera": lambda f: jpeg_with(f / "x.jpg", Photo_CameraOwnerName="Peter Other"),
}  # fmt: skip
NOTE = "<xmpNote:HasExtendedXMP>DIGEST</xmpNote:HasExtendedXMP>"


@pytest.mark.parametrize("place", PLACES)
def test_nobody_is_overlooked_wherever_they_stand(tmp_path: Path, place: str) -> None:
    """Also where no program should write them; what cannot be read may name anybody."""
    assert_nothing_of_ours(*made_with(PLACES[place](tmp_path), rights=OWN))


@pytest.mark.parametrize(
    "body",
    [
        '<c:license rdf:resource="https://creativecommons.org/licenses/by/4.0/"/>',
        "<c:legalcode>https://creativecommons.org/licenses/by/4.0/legalcode</c:legalcode>",
        "<e:Creator rdf:parseType='Resource'><e:Name>Peter Other</e:Name></e:Creator>",
        "<plus:OtherLicenseInfo>CC BY-SA 4.0</plus:OtherLicenseInfo>",
        "<ps:Instructions>Public domain. Credit Peter Other</ps:Instructions>",
        "<f:rightsOwner>Peter Other</f:rightsOwner>",
        "<xmpRights:UsageTerms>This photograph is the property of Peter Other.</xmpRights:UsageTerms>",
        "<dc:rights>No rights reserved</dc:rights>", "<xmpRights:UsageTerms>CC_BY_SA 4.0</xmpRights:UsageTerms>",
        "<xmpRights:UsageTerms>CC BY4.0</xmpRights:UsageTerms>", "<dc:rights>dominio público</dc:rights>",
        "<ps:Credit>World Images</ps:Credit>", "<ps:Credit>© A. Na</ps:Credit>",
        "<ps:Credit>Photo World Inc.</ps:Credit>",
    ],
)  # fmt: skip
def test_terms_licences_and_other_vocabularies_count(tmp_path: Path, body: str) -> None:
    """Whoever is named there, and whatever gives the picture to the public."""
    for address in (CC, CC.replace("http", "https")):
        path = jpeg_with_xmp(tmp_path / "x.jpg", packet(body, c=address, e=EXT, f="http://skerrow.example/f/"))
        assert_nothing_of_ours(*made_with(path, rights=OWN))


@pytest.mark.parametrize(
    ("exif", "xmp", "own"),
    [
        ("田中太郎", "山本花子", "山本花子"), ("Анна Белова", "Инна Серова", "Инна Серова"),
        ("Åse Bø", "Øse Bå", "Øse Bå"), ("राम", "रामू", "रामू"), ("ハン", "バン", "バン"),
    ],
)  # fmt: skip
def test_other_names_of_the_same_length_are_other_names(tmp_path: Path, exif: str, xmp: str, own: str) -> None:
    """In any script: only the same octets, read in another set of letters, are the same name."""
    path = jpeg_with_xmp(tmp_path / "x.jpg", packet(BY.format(xmp)))
    with pyexiv2.Image(str(path)) as image:
        image.modify_exif({"Exif.Image.Artist": exif})

    jpeg, made = made_with(path, rights=Rights(creator=own, copyright=f"© {own}"))

    assert "anothers-picture" in {said.key for said in made.doubts}
    assert by_exiftool(jpeg)["IFD0:Artist"] == exif
    assert f"© {own}".encode() not in jpeg


@pytest.mark.parametrize("kind", [3, 6])
def test_a_name_in_numbers_may_be_anybodys(tmp_path: Path, kind: int) -> None:
    """An Artist of a type that is none of text (TIFF 6.0, section 2: SHORT, SBYTE)."""
    width, name = {3: 2, 6: 1}[kind], b"Peter Other"
    value = b"".join(letter.to_bytes(width, "little") for letter in name)
    path = jpeg_with(tmp_path / "x.jpg", exif_with(0x013B, kind, value, len(name)))

    assert_nothing_of_ours(*made_with(path, rights=OWN))


REUTER = (
    PETER + "<ps:AuthorsPosition>Staff, Skerry Press</ps:AuthorsPosition><ps:Instructions>Ask Peter</ps:Instructions>"
    "<t:policy>https://press.example/tdm</t:policy><d:accessRights>Only with Peter</d:accessRights>"
    "<e:RegistryId><rdf:Bag><rdf:li rdf:parseType='Resource'><e:RegItemId>R-Peter</e:RegItemId></rdf:li></rdf:Bag>"
    "</e:RegistryId><plus:OtherLicenseInfo>Peter's</plus:OtherLicenseInfo>"
)
REUTER_NAMES = {"t": "http://www.w3.org/ns/tdmrep/", "d": "http://purl.org/dc/terms/", "e": EXT}


def test_override_replaces_the_whole_of_it(tmp_path: Path) -> None:
    """Nothing of somebody else's rights stays beside our name, the camera owner's name neither."""
    path = jpeg_with_xmp(tmp_path / "x.jpg", packet(REUTER, **REUTER_NAMES))
    with pyexiv2.Image(str(path)) as image:
        image.modify_exif({"Exif.Photo.CameraOwnerName": "Peter Other"})

    jpeg, made = made_with(path, rights=Rights(creator="Anna Berg", copyright="© Anna Berg", override=True))

    assert b"Peter" not in jpeg
    assert b"Press" not in jpeg
    assert b"press.example" not in jpeg
    assert "rights-replaced" in {note.key for note in made.notes}


@pytest.mark.parametrize(
    "field",
    [
        "<x:RawFileName>/home/anna/raw.dng</x:RawFileName>", "<x:BaseURL>file:///home/anna/</x:BaseURL>",
        "<tiff:DocumentName>/home/anna/x</tiff:DocumentName>", "<dc:source>/Users/anna/full.tif</dc:source>",
        "<f:OriginalFileName>/home/anna/raw.dng</f:OriginalFileName>",
        "<f:Where><rdf:Bag><rdf:li>C:\\Users\\anna\\x.tif</rdf:li></rdf:Bag></f:Where>",
    ],
)  # fmt: skip
def test_no_path_of_a_computer_travels(tmp_path: Path, field: str) -> None:
    """Whatever is kept, and whatever the field is called."""
    names = {"x": "http://ns.adobe.com/xap/1.0/", "f": "http://skerrow.example/f/"}
    path = jpeg_with_xmp(tmp_path / "x.jpg", packet(field, **names))

    assert b"anna" not in made_with(path, keep_location=True, keep_serials=True)[0]


def test_no_path_of_a_computer_travels_in_exif_or_iptc(tmp_path: Path) -> None:
    """Neither as a field, nor brought into another one, nor as words about the picture."""
    sets = [data_set(2, 120, b"/home/anna/raw.dng")]
    sets += [data_set(2, 25, keyword) for keyword in (b"sea", b"C:\\anna\\trip", b"dusk")]
    path = jpeg_with_blocks(tmp_path / "x.jpg", block(0x0404, b"".join(sets)))
    with pyexiv2.Image(str(path)) as image:
        image.modify_exif({
            "Exif.Image.ImageDescription": "C:\\Users\\anna\\x.tif", "Exif.Image.DocumentName": "/home/anna/x",
            "Exif.Photo.UserComment": "charset=Ascii /home/anna/x", "Exif.Image.Make": "Kelp",
            "Exif.Image.XPComment": "C:\\Users\\anna\\x", "Exif.Image.XPTitle": "/home/anna/x",
        })  # fmt: skip

    assert "anna".encode("utf-16-le") in path.read_bytes()

    jpeg, made = made_with(path, keep_location=True, keep_serials=True)

    assert by_exiftool(jpeg)["IPTC:Keywords"] == ["sea", "dusk"]
    assert b"anna" not in jpeg
    assert "anna".encode("utf-16-le") not in jpeg
    assert made.about.description is None
    assert by_exiftool(jpeg)["IFD0:Make"] == "Kelp"


def test_markers_without_a_length_hide_nothing() -> None:
    """TEM, RST and SOI (ITU-T T.81, table B.1); decoders refuse some of such files."""
    data = b"\xff\xd8\xff\x01\xff\xd3\xff\xd8" + segment(0xE1, b"Exif") + b"\xff\xd9"

    assert list(segments(BytesIO(data), 0xE1)) == [b"Exif"]


@pytest.mark.parametrize("own", [Rights(copyright="© Anna Berg"), Rights(creator="Anna Berg")])
def test_the_other_stays_where_only_a_part_of_ours_is_known(tmp_path: Path, own: Rights) -> None:
    """No agreement puts our name in the place of somebody else's."""
    path = jpeg_with_xmp(tmp_path / "x.jpg", packet(PETER + "<dc:rights>© Peter Other</dc:rights>"))
    with pyexiv2.Image(str(path)) as image:
        image.modify_exif({"Exif.Image.Artist": "Anna Berg", "Exif.Image.Copyright": "© Anna Berg"})

    jpeg, made = made_with(path, rights=own)

    found = by_exiftool(jpeg)
    assert "anothers-picture" in {said.key for said in made.doubts}
    assert found["XMP-dc:Creator"] == ["Peter Other"]
    assert found["XMP-dc:Rights"] == "© Peter Other"


@pytest.mark.parametrize("blank", ["", " "])
def test_a_blank_artist_costs_nothing(tmp_path: Path, blank: str) -> None:
    """As many cameras write it: our name goes there, and the rest stays."""
    path = jpeg_with(tmp_path / "x.jpg", Image_Artist=blank, Image_Make="Kelp", Image_Copyright="© 2024 Anna Berg")

    jpeg, made = made_with(path, rights=OWN)

    found = by_exiftool(jpeg)
    assert (found["IFD0:Artist"], found["IFD0:Make"]) == ("Anna Berg", "Kelp")
    assert found["IFD0:Copyright"] == "© 2024 Anna Berg"
    assert made.doubts == ()


def test_a_damaged_profile_costs_a_png_nothing_else(tmp_path: Path) -> None:
    """Neither its Exif nor our name."""
    path = png_with_chunks(
        tmp_path / "x.png", (b"eXIf", exif_of(Make="Kelp").removeprefix(b"Exif\0\0")),
        (b"tEXt", b"Raw profile type icm\0\nicm\n       9\nzz"),
    )  # fmt: skip

    found = by_exiftool(made_with(path, rights=OWN)[0])

    assert (found["IFD0:Artist"], found["IFD0:Make"]) == ("Anna Berg", "Kelp")


def test_a_damaged_profile_leaves_what_is_whole(tmp_path: Path) -> None:
    """What stands whole in the file travels; of the other it is not known whom it names."""
    author = "<dc:creator><rdf:Seq><rdf:li>Juno Pell</rdf:li></rdf:Seq></dc:creator>"
    path = png_with_chunks(
        tmp_path / "x.png",
        (b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + packet(author).encode()),
        raw_profile("iptc", SIGNATURE + block(0x0404, data_set(2, 110, b"Skerry Press"))),
        (b"tEXt", b"Raw profile type xmp\0\nxmp\n       9\nzz"),
        (b"tEXt", b"Raw profile type 8bim\0\n8bim\n       9\nzz"),
    )  # fmt: skip

    jpeg, made = made_with(path, rights=OWN)

    found = by_exiftool(jpeg)
    assert (found["XMP-dc:Creator"], found["IPTC:Credit"]) == (["Juno Pell"], "Skerry Press")
    assert "metadata-left-behind" in [doubt.key for doubt in made.doubts]


def test_the_same_exif_twice_is_one(tmp_path: Path) -> None:
    """Only blocks that differ may name two people."""
    block_of_exif = segment(0xE1, exif_of(Make="Kelp"))

    assert by_exiftool(made_with(jpeg_with(tmp_path / "x.jpg", block_of_exif, block_of_exif), rights=OWN)[0])[
        "IFD0:Artist"
    ] == "Anna Berg"  # fmt: skip


def test_texts_in_the_letters_of_windows_are_read(tmp_path: Path) -> None:
    """They are no Latin-1, which has no letters there (PNG third edition, 11.3.3.2)."""
    path = png_with_chunks(tmp_path / "x.png", (b"tEXt", b"Title\0Skerry \x96 \x93dusk\x94"))

    assert by_exiftool(made_with(path)[0])["XMP-dc:Title"] == "Skerry – “dusk”"


def test_an_owner_who_is_nobody_stays_behind(tmp_path: Path) -> None:
    """Even where nobody else is named."""
    path = jpeg_with(tmp_path / "x.jpg", Photo_CameraOwnerName="User", Image_Make="Kelp")

    assert "ExifIFD:OwnerName" not in by_exiftool(made_with(path)[0])


def test_an_address_of_a_computers_own_is_none(tmp_path: Path) -> None:
    """In an image resource block."""
    path = jpeg_with_blocks(tmp_path / "x.jpg", block(0x040B, b"file:///Users/anna/rights.html"))

    assert b"anna" not in made_with(path)[0]


def test_long_iptc_keeps_its_names(tmp_path: Path) -> None:
    """More than a segment of a JPEG has room for: the rights, or the names alone, are written."""
    program, caption = (data_set(2, number, b"a" * 30_000) for number in (65, 120))
    keywords = b"".join(data_set(2, 25, f"keyword {number}".encode()) for number in range(5000))
    for sets, left in (
        (IIM + program + data_set(2, 122, b"b" * 30_000) + caption, "rights"),
        (IIM + keywords, "names"),
        (IIM + keywords + data_set(2, 25, b"C:\\anna"), "names"),
    ):
        path = tiff_with(tmp_path / "x.tif", (33723, 1, len(sets), sets, True))

        jpeg, made = made_with(path)

        assert by_exiftool(jpeg)["IPTC:By-line"] == "Peter Other"
        (text,) = [said.text for said in made.notes if said.key == "metadata-too-large"]
        assert f"all but {left}" in text


def test_a_name_that_grows_beyond_its_place_stands_in_xmp(tmp_path: Path) -> None:
    """IIM has room for 32 octets (IIM 4.2, 2:80); in UTF-8 these letters need more."""
    name = "Müller-Lüdenscheidt-Österhölz Jö"
    path = jpeg_with_blocks(tmp_path / "x.jpg", block(0x0404, data_set(2, 80, name.encode("cp1252"))))

    found = by_exiftool(made_with(path)[0])

    assert found["XMP-dc:Creator"] == [name]
    assert "IPTC:By-line" not in found


def test_a_big_tiff_says_who_made_it(tmp_path: Path) -> None:
    """The library does not read it; author, copyright and description are read all the same."""
    path = tmp_path / "x.tif"
    tags = [(315, 2, 0, "Anna Berg", True), (33432, 2, 0, "© Anna Berg".encode(), True)]
    tifffile.imwrite(
        path, np.asarray(landscape(320, 240)), bigtiff=True, photometric="rgb", metadata=None, extratags=tags
    )

    jpeg, made = made_with(path, rights=OWN)

    found = by_exiftool(jpeg)
    assert (found["IFD0:Artist"], found["XMP-dc:Creator"]) == ("Anna Berg", ["Anna Berg"])
    assert "rights-unknown" not in {said.key for said in made.findings}
    assert not [said.text for said in made.findings if str(tmp_path) in said.text]
