"""All that is there is read: every block of IPTC, the texts of a PNG, letters of old systems, XMP in odd shapes."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Literal

import numpy as np
import pyexiv2
import pytest
import tifffile

from lanternslide.records import Made
from tests.reference.test_metadata_policies import OWN, made_with
from tests.support.exiftool import by_exiftool, needs_exiftool
from tests.support.iptc import block, data_set, jpeg_with_blocks, png_with_chunks, raw_profile
from tests.support.pictures import landscape
from tests.support.xmp import jpeg_with_xmp, packet

pytestmark = needs_exiftool

IIM, MARKED, ADDRESS = 0x0404, 0x040A, 0x040B
BYLINE, CAPTION, TITLE, CREATED = 80, 120, 5, 60
ADDRESS_TEXT = "https://skerrow.example/rights"


def keys(made: Made) -> set[str]:
    """Return the keys of what is told."""
    return {said.key for said in made.findings}


def iim(*sets: tuple[int, bytes], charset: bytes | None = None) -> bytes:
    """Return a block of IIM with fields of its second record, in a declared character set or none."""
    declared = b"" if charset is None else data_set(1, 90, charset)
    return block(IIM, declared + b"".join(data_set(2, number, data) for number, data in sets))


def assert_not_ours(jpeg: bytes) -> None:
    """Check that nothing of the photographer's own was added."""
    for text in (OWN.creator, OWN.contact, "скала"):
        assert text is not None
        assert text.encode() not in jpeg, text


# Blocks


@pytest.mark.parametrize("apart", [True, False])
def test_every_block_of_iptc_is_read(tmp_path: Path, *, apart: bool) -> None:
    """A second segment, or a second block in one, counts like the first: another's name may stand there."""
    first, second = iim((TITLE, b"Grey seal")), iim((BYLINE, b"Juno Pell"), (CAPTION, b"At dawn"))
    segments = [first, second] if apart else [first + second]

    jpeg, made = made_with(jpeg_with_blocks(tmp_path / "x.jpg", *segments), rights=OWN)

    found = by_exiftool(jpeg)
    assert (found["IPTC:ObjectName"], found["IPTC:By-line"], found["IPTC:Caption-Abstract"]) == (
        "Grey seal", "Juno Pell", "At dawn",
    )  # fmt: skip
    assert "anothers-picture" in keys(made)
    assert_not_ours(jpeg)


def test_a_block_may_go_on_in_the_next_segment(tmp_path: Path) -> None:
    """Wherever it is cut (XMP specification part 3, 1.1.2)."""
    whole = iim((TITLE, b"Grey seal"), (BYLINE, b"Juno Pell"))
    for cut in (3, 9, 20, len(whole) - 3):
        jpeg, made = made_with(jpeg_with_blocks(tmp_path / "x.jpg", whole[:cut], whole[cut:]), rights=OWN)

        assert by_exiftool(jpeg)["IPTC:By-line"] == "Juno Pell", cut
        assert keys(made) & {"anothers-picture", "metadata-left-behind"} == {"anothers-picture"}


def test_the_mark_and_the_address_of_a_copyright_become_xmp(tmp_path: Path) -> None:
    """As XMP specification part 3, table 14, says; what XMP says itself is not overruled."""
    blocks = block(MARKED, b"\1") + block(ADDRESS, ADDRESS_TEXT.encode())
    for policy in ("whole", "rights"):
        jpeg, made = made_with(jpeg_with_blocks(tmp_path / "x.jpg", blocks), metadata=policy)
        found = by_exiftool(jpeg)
        assert (found["XMP-xmpRights:Marked"], found["XMP-xmpRights:WebStatement"]) == (True, ADDRESS_TEXT)
        assert made.about.web_statement == ADDRESS_TEXT

    unmarked, _ = made_with(jpeg_with_blocks(tmp_path / "y.jpg", block(MARKED, b"\0")))
    assert "XMP-xmpRights:Marked" not in by_exiftool(unmarked)


def test_an_address_without_an_author_is_somebodys(tmp_path: Path) -> None:
    """So nothing of ours is added."""
    original = jpeg_with_blocks(tmp_path / "x.jpg", block(ADDRESS, ADDRESS_TEXT.encode()))

    jpeg, made = made_with(original, rights=OWN)

    assert "anothers-picture" in keys(made)
    assert_not_ours(jpeg)


@pytest.mark.parametrize("damage", ["short block", "short field", "between"])
def test_damaged_blocks_are_unknown(tmp_path: Path, damage: str) -> None:
    """What stands before the damage travels; nothing of ours is added."""
    whole = iim((TITLE, b"Grey seal"), (CAPTION, b"At dawn"))
    sets = data_set(2, TITLE, b"Grey seal")
    content = {
        "short block": block(0x0400, b"abcd") + whole[:-6],
        "short field": block(IIM, sets + b"\x1c\2\x78\0\x50At"),
        "between": block(IIM, sets + b"rubbish" + data_set(2, CAPTION, b"At dawn")),
    }[damage]

    jpeg, made = made_with(jpeg_with_blocks(tmp_path / "x.jpg", content), rights=OWN)

    assert {"metadata-left-behind", "rights-unknown"} <= keys(made)
    assert_not_ours(jpeg)
    assert by_exiftool(jpeg).get("IPTC:ObjectName") == (None if damage == "short block" else "Grey seal")


@pytest.mark.parametrize("kind", ["B", "I", "turned"])
@pytest.mark.parametrize("order", ["<", ">"])
def test_iptc_of_a_tiff_is_read_whatever_its_type(tmp_path: Path, order: Literal["<", ">"], kind: str) -> None:
    """Octets, or numbers of four octets, which some programs turn with the file (TIFF tag 33723)."""
    sets = data_set(2, BYLINE, b"Juno Pell") + data_set(2, TITLE, b"Grey seal")
    sets += b"\0" * (-len(sets) % 4)
    number = ">" if (order == "<") == (kind == "turned") else "<"
    value = sets if kind == "B" else struct.unpack(f"{number}{len(sets) // 4}I", sets)
    original = tmp_path / "x.tif"
    tag = (33723, 1 if kind == "B" else 4, len(value), value, True)

    tifffile.imwrite(
        original, np.asarray(landscape(320, 240)), photometric="rgb", metadata=None, byteorder=order, extratags=[tag]
    )

    jpeg, made = made_with(original, rights=OWN)

    assert by_exiftool(jpeg)["IPTC:By-line"] == "Juno Pell"
    assert "anothers-picture" in keys(made)


# PNG


def itxt(keyword: str, text: str) -> bytes:
    """Return the content of a chunk iTXt."""
    return keyword.encode() + b"\0\0\0\0\0" + text.encode()


WORDS = {"Title": "Grey seal", "Author": "Ida Marrow", "Description": "At dawn, Ída", "Copyright": "© Ida Marrow"}


@pytest.mark.parametrize("kind", [b"tEXt", b"zTXt", b"iTXt"])
@pytest.mark.parametrize("policy", ["whole", "rights"])
def test_the_texts_of_a_png_travel(tmp_path: Path, kind: bytes, policy: str) -> None:
    """In each of the three kinds of chunk, as XMP."""
    chunks = []
    for keyword, text in WORDS.items():
        plain = keyword.encode() + b"\0"
        chunks.append({
            b"tEXt": plain + text.encode("latin-1"),
            b"zTXt": plain + b"\0" + zlib.compress(text.encode("latin-1")),
            b"iTXt": itxt(keyword, text),
        }[kind])  # fmt: skip
    original = png_with_chunks(tmp_path / "x.png", *((kind, chunk) for chunk in chunks))

    jpeg, made = made_with(original, metadata=policy)

    found = by_exiftool(jpeg)
    assert found["XMP-dc:Title"] == "Grey seal"
    assert found["XMP-dc:Creator"] == ["Ida Marrow"]
    assert found["XMP-dc:Description"] == "At dawn, Ída"
    assert found["XMP-dc:Rights"] == "© Ida Marrow"
    assert made.about.title == "Grey seal"


def test_the_texts_of_a_png_do_not_overrule_its_metadata(tmp_path: Path) -> None:
    """They fill in what nothing else says."""
    xmp = packet("<dc:title><rdf:Alt><rdf:li xml:lang='x-default'>Seal Cove</rdf:li></rdf:Alt></dc:title>")
    chunks = [(b"iTXt", itxt("XML:com.adobe.xmp", xmp)), *((b"iTXt", itxt(word, text)) for word, text in WORDS.items())]

    found = by_exiftool(made_with(png_with_chunks(tmp_path / "x.png", *chunks))[0])

    assert (found["XMP-dc:Title"], found["XMP-dc:Creator"]) == ("Seal Cove", ["Ida Marrow"])


def exif_of(**fields: str) -> bytes:
    """Return Exif as a JPEG holds it."""
    stream = io.BytesIO()
    landscape(32, 24).save(stream, "JPEG")
    with pyexiv2.ImageData(stream.getvalue()) as image:
        image.modify_exif({f"Exif.Image.{name}": text for name, text in fields.items()})
        data = bytes(image.get_bytes())
    at = data.index(b"Exif\0\0")
    return data[at : at + int.from_bytes(data[at - 2 : at]) - 2]


@pytest.mark.parametrize("name", ["exif", "APP1", "iptc", "xmp"])
def test_metadata_in_the_texts_of_a_png_is_read(tmp_path: Path, name: str) -> None:
    """Exif, IPTC and XMP as hexadecimal text, as programs wrote them before PNG had places for them."""
    author = packet("<dc:creator><rdf:Seq><rdf:li>Juno Pell</rdf:li></rdf:Seq></dc:creator>")
    data = {
        "exif": exif_of(Artist="Juno Pell"),
        "APP1": exif_of(Artist="Juno Pell"),
        "iptc": iim((BYLINE, b"Juno Pell")),
        "xmp": author.encode(),
    }[name]

    jpeg, made = made_with(png_with_chunks(tmp_path / "x.png", raw_profile(name, data)), rights=OWN)

    found = by_exiftool(jpeg)
    place = {"iptc": "IPTC:By-line", "xmp": "XMP-dc:Creator"}.get(name, "IFD0:Artist")
    assert found[place] in ("Juno Pell", ["Juno Pell"])
    assert "anothers-picture" in keys(made)
    assert_not_ours(jpeg)


@pytest.mark.parametrize("name", ["iptc", "xmp"])
def test_damaged_metadata_in_the_texts_of_a_png_is_unknown(tmp_path: Path, name: str) -> None:
    """A digit is missing."""
    kind, chunk = raw_profile(name, iim((BYLINE, b"Juno Pell")))
    head, packed = chunk.split(b"\0\0", 1)
    short = head + b"\0\0" + zlib.compress(zlib.decompress(packed)[:-8])

    jpeg, made = made_with(png_with_chunks(tmp_path / "x.png", (kind, short)), rights=OWN)

    assert "rights-unknown" in keys(made)
    assert_not_ours(jpeg)


# Letters


@pytest.mark.parametrize(
    ("text", "codec", "charset"),
    [
        ("Seehund in der Dämmerung, © Müller", "mac_roman", None),
        ("Phoque à l’île, « été »", "mac_roman", None),
        ("Seehund in der Dämmerung, © Müller", "cp1252", None),
        ("“Grey seal” – Ida’s, 5 €", "cp1252", None),
        ("Grå säl, тюлень, 海豹", "utf-8", None),
        ("Grå säl, тюлень, 海豹", "utf-8", b"\x1b%G"),
        ("Тюлень на рассвете", "iso8859-5", b"\x1b-L"),
        ("Šedý tuleň", "iso8859-2", b"\x1b-B"),
        ("海豹の朝", "iso2022_jp", b"\x1b$B"),
        ("“Grey seal”", "cp1252", b"\x1b.A"),
        ("Grå säl", "utf-8", b"\x1b.A"),  # the declaration is untrue, and that shows: "GrÃ¥" is no word
    ],
)
def test_letters_are_what_they_were_meant_to_be(tmp_path: Path, text: str, codec: str, charset: bytes | None) -> None:
    """Declared sets, and those that show themselves."""
    original = jpeg_with_blocks(tmp_path / "x.jpg", iim((CAPTION, text.encode(codec)), charset=charset))

    jpeg, made = made_with(original)

    found = by_exiftool(jpeg)
    assert (found["IPTC:Caption-Abstract"], found["IPTC:CodedCharacterSet"]) == (text, "\x1b%G")
    assert "metadata-left-behind" not in keys(made)


@pytest.mark.parametrize(
    ("text", "codec"), [("Мария Иванова", "cp1251"), ("山田太郎", "shift_jis"), ("攝影", "big5"), ("Ída", "cp1252")]
)
def test_letters_that_nobody_can_tell_are_no_garbage(tmp_path: Path, text: str, codec: str) -> None:
    """The field stays behind, a doubt names it, and a name that cannot be read may be anybody's."""
    original = jpeg_with_blocks(tmp_path / "x.jpg", iim((BYLINE, text.encode(codec)), (TITLE, b"Seal")))

    jpeg, made = made_with(original, rights=OWN)

    found = by_exiftool(jpeg)
    assert (found.get("IPTC:By-line"), found["IPTC:ObjectName"]) == (None, "Seal")
    assert {"metadata-left-behind", "rights-unknown"} <= keys(made)
    assert "Byline" in next(said.text for said in made.doubts if said.key == "metadata-left-behind")
    assert_not_ours(jpeg)


def test_fields_of_one_block_may_be_in_two_sets(tmp_path: Path) -> None:
    """Programs add UTF-8 to what an older one has written."""
    sets = iim((CAPTION, "Porträtt på Eva".encode("cp1252")), (TITLE, "Källtorp".encode()))
    jpeg, made = made_with(jpeg_with_blocks(tmp_path / "x.jpg", sets))

    found = by_exiftool(jpeg)
    assert (found["IPTC:Caption-Abstract"], found["IPTC:ObjectName"]) == ("Porträtt på Eva", "Källtorp")
    assert not made.doubts


@pytest.mark.parametrize(
    ("text", "codec", "is_known"),
    [
        ("Müller", "mac_roman", True),
        ("Müller", "cp1252", True),
        ("Müller", "utf-8", True),
        ("Кошелев", "cp1251", False),
    ],
)
def test_letters_of_exif_are_told_too(tmp_path: Path, text: str, codec: str, *, is_known: bool) -> None:
    """Exif does not say in which letters it is; a name that nobody can read may be anybody's."""
    original = tmp_path / "x.jpg"
    landscape(320, 240).save(original)
    with pyexiv2.Image(str(original)) as image:
        image.modify_exif({"Exif.Image.Artist": text.encode(codec).decode("latin-1")}, encoding="latin-1")

    jpeg, made = made_with(original, rights=OWN)

    assert by_exiftool(jpeg).get("IFD0:Artist") == (text if is_known else None)
    assert ("rights-unknown" in keys(made)) != is_known
    assert_not_ours(jpeg)


# XMP in odd shapes


BY = "<dc:creator><rdf:Seq><rdf:li>{}</rdf:li></rdf:Seq></dc:creator>"
DEFAULT = '<rdf:li xml:lang="x-default">{}</rdf:li>'
NEXT = '</rdf:Description><rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/">'
FOAF = {"foaf": "http://xmlns.com/foaf/0.1/"}


@pytest.mark.parametrize(
    "body",
    [
        f"{BY.format('Ida Marrow')}{NEXT}{BY.format('Juno Pell')}",
        '<dc:creator rdf:parseType="Literal">Juno Pell</dc:creator>',
        BY.format("<rdf:Description><foaf:name>Juno Pell</foaf:name></rdf:Description>"),
        "<dc:creator><rdf:Seq><rdf:_1>Juno Pell</rdf:_1></rdf:Seq></dc:creator>",
        "<dc:creator><rdf:List><rdf:first>Juno Pell</rdf:first></rdf:List></dc:creator>",
        f"<dc:rights><rdf:Alt>{DEFAULT.format('© Ida Marrow')}{DEFAULT.format('© Juno Pell')}</rdf:Alt></dc:rights>",
        BY.format("Van"),
    ],
    ids=["twice", "literal", "structure", "numbered", "list", "two defaults", "particle"],
)
def test_nobody_is_overlooked_in_odd_xmp(tmp_path: Path, body: str) -> None:
    """Somebody else's name, or what may be one, keeps ours out."""
    jpeg, made = made_with(jpeg_with_xmp(tmp_path / "x.jpg", packet(body, **FOAF)), rights=OWN)

    assert keys(made) & {"anothers-picture", "rights-unknown"}
    assert_not_ours(jpeg)


def test_the_same_said_twice_is_said_once(tmp_path: Path) -> None:
    """Two descriptions that agree are no matter."""
    author = "<dc:creator><rdf:Seq><rdf:li>Ida Marrow</rdf:li></rdf:Seq></dc:creator>"
    body = f"{author}{NEXT}{author}"

    jpeg, made = made_with(jpeg_with_xmp(tmp_path / "x.jpg", packet(body)), rights=OWN)

    assert by_exiftool(jpeg)["IFD0:Artist"] == "Ida Marrow"
    assert not made.doubts


def test_an_empty_packet_does_not_hide_a_full_one(tmp_path: Path) -> None:
    """The first packet that says anything counts."""
    author = packet("<dc:creator><rdf:Seq><rdf:li>Juno Pell</rdf:li></rdf:Seq></dc:creator>")
    chunks = [(b"iTXt", itxt("XML:com.adobe.xmp", "")), (b"iTXt", itxt("XML:com.adobe.xmp", author))]

    jpeg, made = made_with(png_with_chunks(tmp_path / "x.png", *chunks), rights=OWN)

    assert by_exiftool(jpeg)["XMP-dc:Creator"] == ["Juno Pell"]
    assert "anothers-picture" in keys(made)


def test_a_damaged_packet_of_a_png_is_unknown(tmp_path: Path) -> None:
    """Compressed, and cut short."""
    packed = zlib.compress(packet("<dc:creator><rdf:Seq><rdf:li>Juno Pell</rdf:li></rdf:Seq></dc:creator>").encode())
    chunk = b"XML:com.adobe.xmp\0\1\0\0\0" + packed[:-60]

    jpeg, made = made_with(png_with_chunks(tmp_path / "x.png", (b"iTXt", chunk)), rights=OWN)

    assert "rights-unknown" in keys(made)
    assert_not_ours(jpeg)
