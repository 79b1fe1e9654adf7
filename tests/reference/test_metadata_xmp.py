"""XMP as other programs write it: whatever its prefixes and shapes, no place gets out and no rights are lost."""

from __future__ import annotations

import base64
import io
import time
from dataclasses import replace
from pathlib import Path

import pyexiv2
import pytest
from PIL.PngImagePlugin import PngInfo

from lanternslide.records import Rights
from tests.reference.test_metadata_policies import made_with
from tests.support.exiftool import by_exiftool, needs_exiftool
from tests.support.fresh import delivered_afresh
from tests.support.pictures import landscape
from tests.support.xmp import jpeg_with_xmp, packet

pytestmark = needs_exiftool

IMAGE = "http://ns.google.com/photos/1.0/image/"
DEPTH = "http://ns.google.com/photos/1.0/depthmap/"
CAMERA = "http://ns.google.com/photos/1.0/camera/"
GEO = "http://www.w3.org/2003/01/geo/wgs84_pos#"
RIGHTS = (
    '<dc:rights><rdf:Alt><rdf:li xml:lang="x-default">© Ida</rdf:li><rdf:li xml:lang="de">© Ida, de</rdf:li></rdf:Alt>'
    "</dc:rights>"
)
NOTE = "<xmpNote:HasExtendedXMP>DIGEST</xmpNote:HasExtendedXMP>"


def picture_within() -> str:
    """Return a small JPEG with a position, as text."""
    stream = io.BytesIO()
    landscape(160, 120).save(stream, "JPEG")
    with pyexiv2.ImageData(stream.getvalue()) as image:
        image.modify_exif({"Exif.GPSInfo.GPSLatitude": "58/1 29/1 30/1", "Exif.Image.Copyright": "Skerrow Cove"})
        return base64.b64encode(image.get_bytes()).decode()


AUTHOR = "<dc:creator><rdf:Seq><rdf:li>Ída Marrow 山</rdf:li></rdf:Seq></dc:creator>"
DC = ' xmlns:dc="http://purl.org/dc/elements/1.1/"'
WRAPPED = '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>{}<?xpacket end="w"?>'


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-32-le", "utf-32-be"]
)
@pytest.mark.parametrize("form", ["{}", WRAPPED])
def test_a_packet_may_be_in_any_encoding_of_unicode(tmp_path: Path, encoding: str, form: str) -> None:
    """With and without a mark, with and without its wrapper (ISO 16684-1, 7.3.2)."""
    original = tmp_path / "x.webp"
    landscape(320, 240).save(original, xmp=form.format(packet(AUTHOR)).encode(encoding))

    jpeg, made = made_with(original)

    assert by_exiftool(jpeg)["XMP-dc:Creator"] == ["Ída Marrow 山"]
    assert "metadata-left-behind" not in [doubt.key for doubt in made.findings]


@pytest.mark.parametrize(
    "more",
    ["\n\x00\x00", " and some words", packet("<dc:creator>Juno Pell</dc:creator>"), "<x:xmpmeta ", "</x:xmpmeta>"],
)
def test_what_follows_the_first_packet_does_not_count(tmp_path: Path, more: str) -> None:
    """Neither bytes that fill it up nor a second packet: the first whole one is the picture's."""
    jpeg, made = made_with(jpeg_with_xmp(tmp_path / "x.jpg", packet(AUTHOR) + more))

    assert by_exiftool(jpeg)["XMP-dc:Creator"] == ["Ída Marrow 山"]
    assert "metadata-left-behind" not in [doubt.key for doubt in made.findings]


@pytest.mark.parametrize(
    "spelt",
    [
        "<!-- <rdf:RDF xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'></rdf:RDF> -->" + packet(AUTHOR),
        packet(AUTHOR).replace(DC, "").replace("<x:xmpmeta", f"<x:xmpmeta{DC}").replace("</x:xmpmeta", "</x:xmpmeta "),
    ],
)
def test_a_packet_begins_and_ends_as_xml_says(tmp_path: Path, spelt: str) -> None:
    """A packet in a comment is none, and a name may have a space behind it (XML 1.0, 2.5 and 3.1)."""
    jpeg, made = made_with(jpeg_with_xmp(tmp_path / "x.jpg", spelt))

    assert by_exiftool(jpeg)["XMP-dc:Creator"] == ["Ída Marrow 山"]
    assert "metadata-left-behind" not in [doubt.key for doubt in made.findings]


@pytest.mark.parametrize("policy", ["whole", "rights"])
@pytest.mark.parametrize("where", ["packet", "extension"])
@pytest.mark.parametrize(
    ("namespace", "name"),
    [(IMAGE, "Data"), (DEPTH, "Data"), (CAMERA, "RelitInputImageData"), ("http://skerrow.example/b/", "Bytes")],
)
def test_pictures_inside_never_travel(tmp_path: Path, namespace: str, name: str, where: str, policy: str) -> None:
    """A picture in XMP has a position of its own: by its namespace, whatever the prefix is, and by its looks."""
    within = picture_within()
    field = f"<z:{name}>{within}</z:{name}>"
    body = (RIGHTS + NOTE, field) if where == "extension" else (RIGHTS + field, "")
    original = jpeg_with_xmp(tmp_path / "x.jpg", *(packet(part, z=namespace) if part else "" for part in body))

    jpeg, _ = delivered_afresh(original, policy=policy)

    assert within[:200].encode() not in jpeg
    assert by_exiftool(jpeg)["XMP-dc:Rights-de"] == "© Ida, de"
    kept, _ = made_with(original, keep_location=True)
    assert within[:200].encode() not in kept


@pytest.mark.parametrize("earlier", [True, False])
@pytest.mark.parametrize(
    ("prefix", "namespace", "name"),
    [("geo", GEO, "point"), ("g", GEO, "point"), ("ns0", "http://skerrow.example/b/", "Spot"), ("dc", GEO, "title")],
)
def test_only_published_vocabularies_travel(
    tmp_path: Path, prefix: str, namespace: str, name: str, *, earlier: bool
) -> None:
    """Fields of other namespaces may say anything: they stay, under any prefix, whatever was read before."""
    before = jpeg_with_xmp(tmp_path / "before.jpg", packet(f"<q:{name}>harmless</q:{name}>", q=namespace))
    body = f"<{prefix}:{name}>Seal Cove</{prefix}:{name}><k:rights><rdf:Alt><rdf:li xml:lang='x-default'>© Ida</rdf:li>"
    body += f"</rdf:Alt></k:rights><k:source {prefix}:{name}='Seal Cove'>roll 7</k:source>"
    spelt = packet(body, **{prefix: namespace, "k": "http://purl.org/dc/elements/1.1/"})
    original = jpeg_with_xmp(tmp_path / "x.jpg", spelt)

    jpeg, doubts = delivered_afresh(*([before] if earlier else []), original)

    assert b"Seal Cove" not in jpeg
    assert by_exiftool(jpeg)["XMP-dc:Rights"] == "© Ida"
    assert "left-behind" not in doubts


def test_the_rest_of_xmp_travels_where_the_location_may(tmp_path: Path) -> None:
    """With `keep_location` nothing is chosen by its vocabulary, and it keeps its namespace."""
    body = RIGHTS + "<g:lat>58.49</g:lat><b:Camp rdf:parseType='Resource'><b:Spot>Seal Cove</b:Spot></b:Camp>"
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(body, g=GEO, b="http://skerrow.example/b/"))

    jpeg, _ = made_with(original, keep_location=True)

    assert b"58.49" in jpeg
    assert b"Seal Cove" in jpeg
    assert f'"{GEO}"'.encode() in jpeg


SHAPES = {
    "text": "Seal Cove",
    "list": "<rdf:Bag><rdf:li>Seal Cove</rdf:li></rdf:Bag>",
    "languages": '<rdf:Alt><rdf:li xml:lang="x-default">Seal Cove</rdf:li></rdf:Alt>',
    "structure": "<rdf:Description><dc:source>Seal Cove</dc:source></rdf:Description>",
    "structures": "<rdf:Bag><rdf:li rdf:parseType='Resource'><dc:source>Seal Cove</dc:source></rdf:li></rdf:Bag>",
    "list of lists": "<rdf:Bag><rdf:li><rdf:Bag><rdf:li>Seal Cove</rdf:li></rdf:Bag></rdf:li></rdf:Bag>",
    "qualified": "<rdf:Description><rdf:value>Seal Cove</rdf:value><dc:source>Seal Cove</dc:source></rdf:Description>",
}
PLACES = ("ps:State", "ps:City", "Iptc4xmpCore:Location", "dc:coverage")


@pytest.mark.parametrize("shape", list(SHAPES))
@pytest.mark.parametrize("name", PLACES)
def test_places_stay_in_any_shape(tmp_path: Path, name: str, shape: str) -> None:
    """A place in a shape that no standard gives it goes with all its parts, and takes nothing else along."""
    body = f"{RIGHTS}<dc:relation>roll 7</dc:relation><{name}>{SHAPES[shape]}</{name}>"
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(body))

    jpeg, made = made_with(original)

    assert b"Seal Cove" not in jpeg
    found = by_exiftool(jpeg)
    assert (found["XMP-dc:Rights"], found["XMP-dc:Rights-de"]) == ("© Ida", "© Ida, de")
    assert b"roll 7" in jpeg
    assert [doubt.key for doubt in made.findings if "left-behind" in doubt.key] == []


NAMES = (
    *("latlon", "latlng", "latlong", "geolocation", "geoposition", "position", "countrycode", "countryname", "cities"),
    *("placename", "cityname", "locations", "places", "State", "county", "region", "town", "village", "district"),
    *("venue", "street", "postalCode", "zip", "elevation", "AbsAlt", "LRFTargetAbsAlt", "Easting", "utm", "mgrs"),
    *("continent", "island", "plusCode", "mapUrl", "point", "where", "GeoLat", "LatDeg"),
)


def test_invented_names_of_places_stay(tmp_path: Path) -> None:
    """Programs put fields of their own into the published namespaces, too: the words of their names tell."""
    fields = "".join(f"<dc:{name}>Seal Cove {name}</dc:{name}>" for name in NAMES)
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(RIGHTS + fields))

    jpeg, _ = made_with(original)

    assert b"Seal Cove" not in jpeg
    assert by_exiftool(jpeg)["XMP-dc:Rights"] == "© Ida"


@pytest.mark.parametrize("name", ["ps:Ciity", "ps:Stat", "Iptc4xmpCore:Locatoin"])
def test_places_whose_names_are_spelt_wrong_stay(tmp_path: Path, name: str) -> None:
    """In the vocabularies of places only the published names count."""
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(f"{RIGHTS}<{name}>Seal Cove</{name}>"))

    jpeg, _ = made_with(original)

    assert b"Seal Cove" not in jpeg
    assert by_exiftool(jpeg)["XMP-dc:Rights"] == "© Ida"


def test_what_stands_between_the_fields_stays(tmp_path: Path) -> None:
    """Comments, instructions, text outside any field, and the name of the described file are no metadata."""
    spelt = packet(f"{RIGHTS}<!-- Seal Cove --><?note Seal Cove?>").replace('about=""', 'about="geo:Seal Cove"')
    original = jpeg_with_xmp(tmp_path / "x.jpg", spelt.replace("<rdf:RDF", "<note>Seal Cove</note><rdf:RDF"))

    jpeg, _ = made_with(original)

    assert b"Seal Cove" not in jpeg
    assert by_exiftool(jpeg)["XMP-dc:Rights"] == "© Ida"


# More than 64 KB


@pytest.mark.parametrize("kind", ["one text", "many texts"])
def test_long_xmp_travels_from_a_fresh_process(tmp_path: Path, kind: str) -> None:
    """An extension is written whatever the process has read before, in seconds even with a thousand fields."""
    texts = {"ps:Instructions": "skerry " * 30_000}
    if kind == "many texts":
        texts = {f"dc:f{number}": "skerry " * 30 for number in range(1000)}
    body = RIGHTS + "".join(f"<{name}>{text}</{name}>" for name, text in texts.items())
    original = tmp_path / "x.png"
    info = PngInfo()
    info.add_itxt("XML:com.adobe.xmp", packet(body))
    landscape(320, 240).save(original, pnginfo=info)
    start = time.monotonic()

    jpeg, doubts = delivered_afresh(original)

    assert time.monotonic() - start < 20
    assert "left-behind" not in doubts
    found = by_exiftool(jpeg)
    assert found["XMP-dc:Rights-de"] == "© Ida, de"
    assert sum(str(value).startswith("skerry skerry") for value in found.values()) == len(texts)


def test_an_extension_does_not_overrule_the_packet(tmp_path: Path) -> None:
    """What both say counts from the packet; nothing is lost for it."""
    more = "<dc:rights>another</dc:rights><dc:source>roll 7</dc:source>"
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(RIGHTS + NOTE), packet(more))

    found = by_exiftool(made_with(original)[0])

    assert (found["XMP-dc:Rights"], found["XMP-dc:Source"]) == ("© Ida", "roll 7")


def test_xmp_arrives_where_the_rest_cannot_be_read(tmp_path: Path) -> None:
    """Compressed XMP of a PNG that the metadata library refuses is read all the same; the doubt stays."""
    original = tmp_path / "x.png"
    info = PngInfo()
    info.add_itxt("XML:com.adobe.xmp", packet(RIGHTS + f"<dc:source>{'skerry ' * 30_000}</dc:source>"), zip=True)
    landscape(320, 240).save(original, pnginfo=info)

    jpeg, made = made_with(original)

    assert by_exiftool(jpeg)["XMP-dc:Rights-de"] == "© Ida, de"
    assert "metadata-left-behind" in [doubt.key for doubt in made.findings]


SHOUTED = (
    "<dc:Creator><rdf:Seq><rdf:li>Juno Pell</rdf:li></rdf:Seq></dc:Creator>"
    '<dc:Rights><rdf:Alt><rdf:li xml:lang="x-default">© Juno Pell</rdf:li></rdf:Alt></dc:Rights>'
    "<dc:Publisher><rdf:Bag><rdf:li>Skerry Press</rdf:li></rdf:Bag></dc:Publisher>"
    '<dc:Coverage>Seal Cove</dc:Coverage><ext:locationcreated rdf:parseType="Resource">'
    "<ext:city>Skerrow</ext:city></ext:locationcreated>"
)


@pytest.mark.parametrize("policy", ["whole", "rights"])
def test_wrong_capitals_are_put_right(tmp_path: Path, policy: str) -> None:
    """What is said of rights counts, travels and is replaced as ever; places stay at home."""
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(SHOUTED, ext="http://iptc.org/std/Iptc4xmpExt/2008-02-29/"))
    own = Rights(creator="Ida Marrow", copyright="© Ida Marrow")

    jpeg, made = made_with(original, metadata=policy, rights=own)
    replaced, _ = made_with(original, metadata=policy, rights=replace(own, override=True))

    found = by_exiftool(jpeg)
    assert (found["XMP-dc:Creator"], found["XMP-dc:Rights"]) == (["Juno Pell"], "© Juno Pell")
    assert found["XMP-dc:Publisher"] == ["Skerry Press"]
    assert "anothers-picture" in [finding.key for finding in made.findings]
    for delivered in (jpeg, replaced):
        assert b"Seal Cove" not in delivered
        assert b"Skerrow" not in delivered
    assert b"Juno Pell" not in replaced
    assert b"Skerry Press" not in replaced
    assert by_exiftool(replaced)["XMP-dc:Creator"] == ["Ida Marrow"]
