"""Author and copyright, in whatever shape, type and character set an original says them."""

from __future__ import annotations

import io
import struct
import zlib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyexiv2
import pytest
import tifffile
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from lanternslide.metadata.files.packets_in_files import png_texts
from tests.reference.test_metadata_policies import OWN, made_with
from tests.support.exiftool import by_exiftool, needs_exiftool
from tests.support.pictures import landscape
from tests.support.xmp import jpeg_with_xmp, packet

pytestmark = needs_exiftool

DESCRIPTION, ARTIST, COPYRIGHT = 0x010E, 0x013B, 0x8298
ASCII, BYTE, UNDEFINED, UTF_8 = 2, 1, 7, 129


def jpeg_with_exif(path: Path, *tags: tuple[int, int, bytes]) -> Path:
    """Write a JPEG with these tags, types and values (of more than four bytes), as they are (TIFF 6.0, section 2)."""
    landscape(320, 240).save(path, quality=90)
    entries, values = b"", b""
    behind = 8 + 2 + 12 * len(tags) + 4
    for tag, kind, value in tags:
        entries += struct.pack("<HHII", tag, kind, len(value), behind + len(values))
        values += value + b"\0" * (len(value) % 2)
    exif = b"Exif\0\0II*\0\x08\0\0\0" + struct.pack("<H", len(tags)) + entries + bytes(4) + values
    data = path.read_bytes()
    path.write_bytes(data[:2] + struct.pack(">BBH", 0xFF, 0xE1, len(exif) + 2) + exif + data[2:])
    return path


def by_pillow(jpeg: bytes) -> dict[int, Any]:
    """Return the first directory of Exif."""
    with Image.open(io.BytesIO(jpeg)) as image:
        return dict(image.getexif())


def three(found: dict[str, Any], exif: str, xmp: str, iptc: str) -> tuple[Any, ...]:
    """Return what the three kinds of metadata say."""
    return found.get(f"IFD0:{exif}"), found.get(f"XMP-dc:{xmp}"), found.get(f"IPTC:{iptc}")


@pytest.mark.parametrize("declared", ["\x1b-A", "\x1b.A", None])
def test_iptc_says_in_which_characters_it_is(tmp_path: Path, declared: str | None) -> None:
    """Delivered IPTC is UTF-8 and says so, whatever the original's was; undeclared bytes are Windows-1252."""
    original = tmp_path / "x.jpg"
    landscape(320, 240).save(original)
    with pyexiv2.Image(str(original)) as image:
        image.modify_iptc({"Iptc.Application2.Byline": ["Ída Märrow"]}, encoding="latin-1")
        image.modify_iptc({"Iptc.Application2.Caption": "the “grey” seal – 5 €"}, encoding="cp1252")
        if declared:
            image.modify_iptc({"Iptc.Envelope.CharacterSet": declared})

    found = by_exiftool(made_with(original)[0])

    assert found["IPTC:By-line"] == "Ída Märrow"
    assert found["IPTC:Caption-Abstract"] == "the “grey” seal – 5 €"


@pytest.mark.parametrize("kind", [UTF_8, UNDEFINED, BYTE])
@pytest.mark.parametrize("configured", [True, False])
def test_text_of_another_type_is_text(tmp_path: Path, kind: int, *, configured: bool) -> None:
    """Exif 3.0's UTF-8, and text that programs have put into tags of bytes, arrives as text."""
    texts = {DESCRIPTION: "Séal at dawn", ARTIST: "Ída Märrow", COPYRIGHT: "© Ída Märrow"}
    tags = [(tag, kind, text.encode() + b"\0") for tag, text in texts.items()]
    original = jpeg_with_exif(tmp_path / "x.jpg", *tags)

    jpeg, made = made_with(original, **({"rights": OWN} if configured else {}))

    found = by_exiftool(jpeg)
    assert [found[f"IFD0:{name}"] for name in ("ImageDescription", "Artist", "Copyright")] == list(texts.values())
    assert (made.about.creator, made.about.description) == ("Ída Märrow", "Séal at dawn")
    if configured:
        assert (found["XMP-dc:Creator"], found["XMP-dc:Rights"]) == (["Ída Märrow"], "© Ída Märrow")


@pytest.mark.parametrize(
    ("spelt", "names"),
    [
        ('<rdf:Alt><rdf:li xml:lang="x-default">Juno</rdf:li></rdf:Alt>', ["Juno"]),
        ('<rdf:Alt><rdf:li xml:lang="de">Juno</rdf:li></rdf:Alt>', ["Juno"]),
        ("<rdf:Bag><rdf:li>Juno</rdf:li><rdf:li>Ida</rdf:li></rdf:Bag>", ["Juno", "Ida"]),
        ("Juno", ["Juno"]),
        ('<rdf:Alt><rdf:li xml:lang="x-default">Juno, lang="de" Ida</rdf:li></rdf:Alt>', ['Juno, lang="de" Ida']),
    ],
)
def test_any_shape_of_a_field_is_read_as_its_texts(tmp_path: Path, spelt: str, names: list[str]) -> None:
    """A name as list, text or in languages where a standard has another shape: the name, and no syntax."""
    original = jpeg_with_xmp(
        tmp_path / "x.jpg", packet(f"<dc:creator>{spelt}</dc:creator><dc:rights>{spelt}</dc:rights>")
    )

    jpeg, _ = made_with(original, rights=OWN)

    found = by_exiftool(jpeg)
    together = "; ".join(names)
    assert three(found, "Artist", "Creator", "By-line") == (together, names, None)
    assert found["IFD0:Copyright"] == found["XMP-dc:Rights"] == together
    assert found.get("XMP-dc:Rights-de") == ("Juno" if 'xml:lang="de"' in spelt else None)


def test_tags_given_twice_are_two_texts(tmp_path: Path) -> None:
    """Exif that names two artists in two tags names both."""
    twice = [(ARTIST, ASCII, b"Ida Marrow\0"), (ARTIST, ASCII, b"Juno Pell\0")]
    original = jpeg_with_exif(tmp_path / "x.jpg", *twice)

    found = by_exiftool(made_with(original, rights=OWN)[0])

    assert found["XMP-dc:Creator"] == ["Ida Marrow", "Juno Pell"]
    assert "[" not in found["IFD0:Artist"]


@pytest.mark.parametrize(
    ("notice", "together"), [(b"Ida\0Editor Juno\0", "Ida; Editor Juno"), (b" \0Editor Juno\0", "Editor Juno")]
)
def test_the_editors_copyright_stays(tmp_path: Path, notice: bytes, together: str) -> None:
    """The second half of an Exif copyright stays where it is, and is said in XMP too."""
    original = jpeg_with_exif(tmp_path / "x.jpg", (COPYRIGHT, ASCII, notice))

    jpeg, made = made_with(original, rights=OWN)

    assert by_pillow(jpeg)[COPYRIGHT].strip("\0") == notice.decode().strip("\0")
    assert by_exiftool(jpeg)["XMP-dc:Rights"] == made.about.copyright == together


def test_large_texts_that_do_not_fit_are_named(tmp_path: Path) -> None:
    """Exif has 64 KB in a JPEG: what is left out for it is said."""
    long = "x" * 40_000
    original = tmp_path / "x.tif"
    pixels = np.asarray(landscape(320, 240))
    names = [(ARTIST, "s", 0, "Ida Marrow", True)]
    tifffile.imwrite(
        original, pixels, photometric="rgb", metadata=None, description=long, software=long, extratags=names
    )

    jpeg, made = made_with(original)

    found = by_exiftool(jpeg)
    assert found["IFD0:Artist"] == "Ida Marrow"
    lost = [name for name in ("ImageDescription", "Software") if f"IFD0:{name}" not in found]
    assert lost
    (text,) = [note.text for note in made.notes if note.key == "metadata-too-large"]
    assert all(name in text for name in lost)


OTHERS = (
    "<tiff:Artist>Juno Pell</tiff:Artist><tiff:Copyright>© Juno Pell</tiff:Copyright>"
    "<xmpRights:Owner><rdf:Bag><rdf:li>Juno Pell</rdf:li></rdf:Bag></xmpRights:Owner>"
    "<plus:CopyrightOwner><rdf:Seq><rdf:li rdf:parseType='Resource'><plus:CopyrightOwnerName>Juno Pell"
    "</plus:CopyrightOwnerName></rdf:li></rdf:Seq></plus:CopyrightOwner>"
)


def test_own_data_leave_no_other_author_standing(tmp_path: Path) -> None:
    """With `override_rights` no field of author or owner names anybody else."""
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(OTHERS))
    with pyexiv2.Image(str(original)) as image:
        image.modify_exif({"Exif.Image.XPAuthor": "Juno Pell", "Exif.Photo.Photographer": "Juno Pell"})

    jpeg, _ = made_with(original, rights=type(OWN)(creator=OWN.creator, copyright=OWN.copyright, override=True))

    assert b"Juno" not in jpeg
    assert "Juno".encode("utf-16-le") not in jpeg


MORE = {"cc": "http://creativecommons.org/ns#"}
ELSEWHERE = (
    "<ps:Credit>Juno Pell Press</ps:Credit>"
    "<xmpRights:UsageTerms><rdf:Alt><rdf:li xml:lang='x-default'>Ask Juno Pell</rdf:li></rdf:Alt>"
    "</xmpRights:UsageTerms><xmpRights:WebStatement>https://juno.example/terms</xmpRights:WebStatement>"
)


def test_own_data_replace_credit_terms_and_contact_too(tmp_path: Path) -> None:
    """With `override_rights` nothing of somebody else's rights stays, and whose name went is told."""
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(OTHERS + ELSEWHERE, **MORE))
    with pyexiv2.Image(str(original)) as image:
        image.modify_iptc(
            {"Iptc.Application2.Credit": "Juno Pell Press", "Iptc.Application2.Contact": ["juno@p.example"]}
        )

    jpeg, made = made_with(original, rights=replace(OWN, override=True))

    assert b"uno" not in jpeg
    found = by_exiftool(jpeg)
    assert (found["XMP-dc:Creator"], found["IPTC:Contact"]) == (["Ída Marrow"], "ida@skerrow.example")
    (told,) = [doubt.text for doubt in made.findings if doubt.key == "rights-replaced"]
    assert "Juno Pell" in told


def by_doubts(made: Any) -> set[str]:
    """Return the keys of what is doubtful about rights."""
    return {doubt.key for doubt in made.findings} & {"anothers-picture", "rights-unknown", "rights-replaced"}


@pytest.mark.parametrize("text", ["Author", "Copyright", "License"])
@pytest.mark.parametrize("kind", ["tEXt", "zTXt", "iTXt"])
def test_the_text_of_a_png_may_name_somebody(tmp_path: Path, text: str, kind: str) -> None:
    """PNG third edition, 11.3.3: in plain, compressed and international text chunks."""
    original = tmp_path / "x.png"
    info = PngInfo()
    if kind == "iTXt":
        info.add_itxt(text, "Juno Pell", zip=True)
    else:
        info.add_text(text, "Juno Pell", zip=kind == "zTXt")
    landscape(320, 240).save(original, pnginfo=info)

    jpeg, made = made_with(original, rights=OWN)

    assert by_doubts(made) == {"anothers-picture"}
    assert b"Marrow" not in jpeg
    assert b"skerrow" not in jpeg


def test_a_damaged_text_of_a_png_may_name_anybody(tmp_path: Path) -> None:
    """What cannot be read is not known."""
    original = tmp_path / "x.png"
    info = PngInfo()
    info.add(b"zTXt", b"Author\0\0no zlib at all")
    landscape(320, 240).save(original, pnginfo=info)

    jpeg, made = made_with(original, rights=OWN)

    assert by_doubts(made) == {"rights-unknown"}
    assert b"Marrow" not in jpeg


@pytest.mark.parametrize(
    ("said", "doubt"),
    [
        ("<xmpRights:Marked>False</xmpRights:Marked>", "anothers-picture"),
        ("<cc:license rdf:resource='https://creativecommons.org/publicdomain/zero/1.0/'/>", "anothers-picture"),
        ("<ps:Credit>Skerry Press</ps:Credit>", "anothers-picture"),
        ("<dc:rights><rdf:Alt><rdf:li", "rights-unknown"),  # damaged: the notice behind it is not read
    ],
)
def test_nothing_is_added_where_somebody_elses_word_stands(tmp_path: Path, said: str, doubt: str) -> None:
    """Neither name, nor notice, nor contact: not in any kind of metadata."""
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(said, **MORE))

    jpeg, made = made_with(original, rights=OWN)

    assert by_doubts(made) == {doubt}
    for own in (b"Marrow", "Ída".encode(), b"skerrow", "скала".encode()):
        assert own not in jpeg


def test_another_author_in_one_place_is_not_overwritten_by_ours_in_another(tmp_path: Path) -> None:
    """As on a reproduction: the camera's setting names the photographer, the rest who made what is shown."""
    said = "<dc:creator><rdf:Seq><rdf:li>Juno Pell</rdf:li></rdf:Seq></dc:creator>"
    said += "<dc:rights><rdf:Alt><rdf:li xml:lang='x-default'>© Juno Pell</rdf:li></rdf:Alt></dc:rights>"
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(said))
    with pyexiv2.Image(str(original)) as image:
        image.modify_exif({"Exif.Image.Artist": "Ída Marrow", "Exif.Image.Copyright": "All rights reserved"})

    jpeg, made = made_with(original, rights=OWN)

    found = by_exiftool(jpeg)
    assert (found["IFD0:Artist"], found["XMP-dc:Creator"]) == ("Juno Pell", ["Juno Pell"])
    assert found["IFD0:Copyright"] == found["XMP-dc:Rights"] == "© Juno Pell"
    assert b"Marrow" not in jpeg
    assert by_doubts(made) == {"anothers-picture"}


def test_a_notice_of_ours_in_another_language_does_not_stay_beside_anothers(tmp_path: Path) -> None:
    """Where the places are brought to say whose picture it is, all languages do."""
    notices = {"x-default": "© Juno Pell", "de": "© Ída Marrow", "fr": "© Juno Pell, fr"}
    texts = "".join(f"<rdf:li xml:lang='{language}'>{text}</rdf:li>" for language, text in notices.items())
    said = f"<dc:rights><rdf:Alt>{texts}</rdf:Alt></dc:rights>"

    jpeg, _ = made_with(jpeg_with_xmp(tmp_path / "x.jpg", packet(said)), rights=OWN)

    found = by_exiftool(jpeg)
    assert (found["XMP-dc:Rights"], found["XMP-dc:Rights-fr"]) == ("© Juno Pell", "© Juno Pell, fr")
    assert b"Marrow" not in jpeg


@pytest.mark.parametrize("tag", [ARTIST, COPYRIGHT])
def test_a_damaged_name_may_be_anybodys(tmp_path: Path, tag: int) -> None:
    """A tag of numbers where a text should be."""
    short, numbers = 3, b"Juno Pell of Skerrow" * 2
    original = jpeg_with_exif(tmp_path / "x.jpg", (tag, short, numbers))
    head = struct.pack("<HHI", tag, short, len(numbers))
    original.write_bytes(original.read_bytes().replace(head, struct.pack("<HHI", tag, short, len(numbers) // 2)))

    jpeg, made = made_with(original, rights=OWN)

    assert by_doubts(made) <= {"rights-unknown", "anothers-picture"}
    assert by_doubts(made)
    assert b"Marrow" not in jpeg


def test_own_rights_are_not_replaced_by_less(tmp_path: Path) -> None:
    """On the photographer's own picture `override_rights` has nothing to take out, and nothing is told."""
    said = (
        "<dc:creator><rdf:Seq><rdf:li>Ída Marrow</rdf:li></rdf:Seq></dc:creator>"
        "<xmpRights:Marked>True</xmpRights:Marked>"
        "<xmpRights:UsageTerms><rdf:Alt><rdf:li xml:lang='x-default'>Ask first</rdf:li></rdf:Alt>"
        "</xmpRights:UsageTerms>"
        "<plus:DataMining>http://ns.useplus.org/ldf/vocab/DMI-PROHIBITED</plus:DataMining>"
    )
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(said))

    jpeg, made = made_with(original, rights=replace(OWN, override=True))

    found = by_exiftool(jpeg)
    assert (found["XMP-xmpRights:UsageTerms"], found["XMP-xmpRights:Marked"]) == ("Ask first", True)
    assert b"DMI-PROHIBITED" in jpeg
    assert by_doubts(made) == set()


def test_with_a_name_alone_the_others_notice_goes_too(tmp_path: Path) -> None:
    """A delivery never has two owners."""
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(OTHERS))

    jpeg, made = made_with(original, rights=type(OWN)(creator=OWN.creator, override=True))

    assert b"Juno" not in jpeg
    assert by_doubts(made) == {"rights-replaced"}


def test_without_own_data_nothing_is_replaced(tmp_path: Path) -> None:
    """`override_rights` alone takes nobody's name away."""
    jpeg, made = made_with(jpeg_with_xmp(tmp_path / "x.jpg", packet(OTHERS)), rights=type(OWN)(override=True))

    assert b"Juno" in jpeg
    assert by_doubts(made) == set()


def test_contributor_and_artist_are_replaced_too(tmp_path: Path) -> None:
    """What the doubt says was replaced is gone."""
    said = (
        "<dc:contributor><rdf:Bag><rdf:li>Juno Pell</rdf:li></rdf:Bag></dc:contributor><v:artist>Juno Pell</v:artist>"
    )
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(said, v="http://ns.adobe.com/xmp/1.0/DynamicMedia/"))

    jpeg, made = made_with(original, rights=replace(OWN, override=True))

    assert b"Juno" not in jpeg
    assert by_doubts(made) == {"rights-replaced"}


def test_every_name_of_a_field_counts(tmp_path: Path) -> None:
    """Of two owners, at the end of a long list of names, and where an address stands for one."""
    owner = "<rdf:li rdf:parseType='Resource'><plus:CopyrightOwnerName>{}</plus:CopyrightOwnerName></rdf:li>"
    owners = "".join(owner.format(name) for name in ("Juno Pell", "Ída Marrow"))
    names = "; ".join(["Ída Marrow", *map(str, range(60)), "Juno Pell"])
    for said in (
        f"<plus:CopyrightOwner><rdf:Seq>{owners}</rdf:Seq></plus:CopyrightOwner>",
        f"<dc:creator><rdf:Seq><rdf:li>{names}</rdf:li></rdf:Seq></dc:creator>",
        (
            "<dc:creator><rdf:Seq><rdf:li>juno@pell.example</rdf:li></rdf:Seq></dc:creator>"
            "<dc:contributor><rdf:Bag><rdf:li>Ída Marrow</rdf:li></rdf:Bag></dc:contributor>"
        ),
    ):
        _, made = made_with(jpeg_with_xmp(tmp_path / "x.jpg", packet(said)), rights=OWN)

        assert by_doubts(made) == {"anothers-picture"}


def test_a_prohibition_stays(tmp_path: Path) -> None:
    """It names nobody, but it says more than whose a picture is."""
    tag = (COPYRIGHT, ASCII, b"Unauthorised use prohibited\0")

    jpeg, _ = made_with(jpeg_with_exif(tmp_path / "x.jpg", tag), rights=OWN)

    assert by_exiftool(jpeg)["IFD0:Copyright"] == "Unauthorised use prohibited"


def test_a_word_that_names_nobody_gives_way(tmp_path: Path) -> None:
    """Neither “Photographer” nor “All rights reserved” says who it is."""
    tags = [(ARTIST, ASCII, b"Photographer\0"), (COPYRIGHT, ASCII, b"All rights reserved\0")]

    jpeg, _ = made_with(jpeg_with_exif(tmp_path / "x.jpg", *tags), rights=OWN)

    found = by_exiftool(jpeg)
    assert (found["IFD0:Artist"], found["XMP-dc:Creator"]) == ("Ída Marrow", ["Ída Marrow"])
    assert "Ída Marrow" in found["IFD0:Copyright"]


@pytest.mark.parametrize("empty", ["   ", "\0\0", '<?xpacket begin="" id="x"?> <?xpacket end="w"?>'])
def test_an_empty_packet_says_nothing(tmp_path: Path, empty: str) -> None:
    """Which is no damage."""
    jpeg, made = made_with(jpeg_with_xmp(tmp_path / "x.jpg", empty), rights=OWN)

    assert by_doubts(made) == set()
    assert by_exiftool(jpeg)["XMP-dc:Creator"] == ["Ída Marrow"]


@pytest.mark.parametrize(
    "chunk",
    [
        (b"zTXt", b"Author\0\0" + zlib.compress(b"Juno Pell" * 50)[:-8]),
        (b"tEXt", b"Copyright\0" + b"x" * 100_000),
        (b"zTXt", b"Author\0\0" + zlib.compress(b" " * 10_000_000)),
    ],
    ids=["cut short", "very long", "very long once unpacked"],
)
def test_texts_of_a_png_that_cannot_be_read_are_unknown(tmp_path: Path, chunk: tuple[bytes, bytes]) -> None:
    """Damaged, or longer than anything that a person writes."""
    original = tmp_path / "x.png"
    landscape(320, 240).save(original)
    data = original.read_bytes()
    kind, content = chunk
    made_chunk = struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
    original.write_bytes(data[:33] + made_chunk + data[33:])
    with pytest.raises(ValueError, match="text chunk"):
        png_texts(original)

    _, made = made_with(original, rights=OWN)

    assert by_doubts(made) == {"rights-unknown"}


def test_further_fields_of_author_and_copyright_are_read(tmp_path: Path) -> None:
    """Where only a lesser field names the author, it counts before the photographer's own data."""
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet("<tiff:Copyright>© Juno Pell</tiff:Copyright>"))
    with pyexiv2.Image(str(original)) as image:
        image.modify_exif({"Exif.Image.XPAuthor": "Juno Pell"})

    found = by_exiftool(made_with(original, rights=OWN)[0])

    assert found["IFD0:Artist"] == "Juno Pell"
    assert found["XMP-dc:Rights"] == "© Juno Pell"


@pytest.mark.parametrize("tag", [DESCRIPTION, ARTIST, COPYRIGHT])
@pytest.mark.parametrize("policy", ["whole", "rights"])
def test_nothing_travels_behind_the_end_of_a_text(tmp_path: Path, tag: int, policy: str) -> None:
    """A tag with a wrong length holds what lies behind it in the file, where readers of text do not look."""
    position = struct.pack("<6I", 58, 1, 29, 1, 30, 1)
    original = jpeg_with_exif(tmp_path / "x.jpg", (tag, ASCII, b"Ida Marrow\0" + position))
    assert position in original.read_bytes()

    jpeg, _ = made_with(original, metadata=policy)

    assert position not in jpeg
    assert by_pillow(jpeg)[tag] == "Ida Marrow"


def test_a_resolution_that_is_none_is_left_behind(tmp_path: Path) -> None:
    """A tag of numbers that runs over what lies behind it does not travel; Pillow opens the delivery."""
    position = struct.pack("<6I", 58, 1, 29, 1, 30, 1)
    original = jpeg_with_exif(tmp_path / "x.jpg", (0x011A, 5, position), (ARTIST, ASCII, b"Ida Marrow\0"))
    data = original.read_bytes()
    count = struct.pack("<HHI", 0x011A, 5, 24)
    assert count in data
    original.write_bytes(data.replace(count, struct.pack("<HHI", 0x011A, 5, 3)))

    jpeg, made = made_with(original)

    assert position not in jpeg
    assert by_pillow(jpeg)[ARTIST] == "Ida Marrow"
    assert "metadata-left-behind" in [doubt.key for doubt in made.findings]


def test_a_number_that_swallows_a_place_is_left_behind(tmp_path: Path) -> None:
    """A wrong length of a number in IPTC makes it run over the fields behind it: that is damage, which is named."""
    original = tmp_path / "x.jpg"
    landscape(320, 240).save(original)
    with pyexiv2.Image(str(original)) as image:
        image.modify_iptc({"Iptc.Envelope.ModelVersion": "4", "Iptc.Application2.City": "Skerrow Town"})
    data = original.read_bytes()
    number = b"\x1c\x01\x00\x00\x02\x00\x04"  # IPTC IIM 4.2, 1:00
    assert number in data
    original.write_bytes(data.replace(number, number[:3] + b"\x00\x13" + number[5:]))

    jpeg, made = made_with(original)

    assert b"Skerrow Town" not in jpeg
    assert "metadata-left-behind" in [doubt.key for doubt in made.findings]


def test_no_date_is_told_where_none_travels(tmp_path: Path) -> None:
    """With `rights` the delivery has no date, and what is said of it (in a manifest) has none either."""
    original = jpeg_with_exif(tmp_path / "x.jpg", (ARTIST, ASCII, b"Ida Marrow\0"))
    with pyexiv2.Image(str(original)) as image:
        image.modify_exif({"Exif.Photo.DateTimeOriginal": "2026:05:14 04:12:00"})

    days = {policy: made_with(original, metadata=policy)[1].about.captured for policy in ("whole", "rights")}

    assert days == {"whole": "2026-05-14", "rights": None}
