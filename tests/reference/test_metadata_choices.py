"""What each policy publishes: all that is about rights, no serial number unasked, and a word about what is left out."""

from __future__ import annotations

import io
import struct
import unicodedata
import zlib
from pathlib import Path
from typing import Any

import pyexiv2
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lanternslide.records import Rights
from tests.reference.test_metadata_policies import OWN, made_with
from tests.reference.test_metadata_reading import exif_of
from tests.support.exiftool import by_exiftool, needs_exiftool, write_by_exiftool
from tests.support.iptc import block, data_set, jpeg_with_blocks, png_with_chunks, raw_profile
from tests.support.pictures import landscape
from tests.support.xmp import jpeg_with_xmp, packet

pytestmark = needs_exiftool

# Rights

OF_RIGHTS = {
    # IPTC Photo Metadata Standard 2023.2 and 2025.1, and PLUS LDF 2.0.1, by exiftool's names
    "XMP-iptcExt:DigitalSourceType": "http://cv.iptc.org/newscodes/digitalsourcetype/digitalCapture",
    "XMP-iptcExt:EmbdEncRightsExpr": [
        {"EncRightsExpr": "<xml/>", "RightsExprEncType": "IANA", "RightsExprLangId": "ODRL"}
    ],
    "XMP-iptcExt:LinkedEncRightsExpr": [
        {"LinkedRightsExpr": "https://skerrow.example/odrl", "RightsExprEncType": "IANA"}
    ],
    "XMP-iptcExt:RegistryID": [{"RegItemId": "R-1", "RegOrgId": "O-1"}],
    "XMP-plus:ModelReleaseID": ["MR-7"],
    "XMP-plus:ModelReleaseStatus": "MR-LMR",
    "XMP-plus:PropertyReleaseID": ["PR-7"],
    "XMP-plus:PropertyReleaseStatus": "PR-LPR",
    "XMP-plus:MinorModelAgeDisclosure": "AG-A25",
    "XMP-plus:ImageFileConstraints": ["IF-MFN"],
    "XMP-plus:MediaConstraints": "No posters",
    "XMP-plus:ImageDuplicationConstraints": "DP-NDC",
    "XMP-plus:RegionConstraints": "Isles only",
    "XMP-plus:LicenseStartDate": "2026:05:14",
    "XMP-photoshop:Instructions": "Ask first",
    "XMP-xmpDM:Copyright": "© Ida Marrow",
    "IPTC:SpecialInstructions": "Ask first",
}


@pytest.mark.parametrize("policy", ["rights", "whole"])
def test_rights_are_kept_whole(tmp_path: Path, policy: str) -> None:
    """Field by field, as exiftool has written them."""
    original = tmp_path / "x.jpg"
    landscape(320, 240).save(original)
    write_by_exiftool(original, *(option for name, value in OF_RIGHTS.items() for option in options(name, value)))
    before = by_exiftool(original.read_bytes())
    assert OF_RIGHTS.keys() <= before.keys()

    found = by_exiftool(made_with(original, metadata=policy)[0])

    assert {name: found.get(name) for name in OF_RIGHTS} == {name: before[name] for name in OF_RIGHTS}


def options(name: str, value: Any) -> list[str]:
    """Return how exiftool is told a value."""
    texts = value if isinstance(value, list) else [value]
    return [f"-{name}#={spelt(text)}" for text in texts]


def spelt(value: Any) -> str:
    """Return a value as exiftool takes it."""
    if not isinstance(value, dict):
        return str(value)
    return "{" + ",".join(f"{name}={text}" for name, text in value.items()) + "}"


EXT = "http://iptc.org/std/Iptc4xmpExt/2008-02-29/"
NEW = {
    "AISystemUsed": "Iptc4xmpExt", "AISystemVersionUsed": "Iptc4xmpExt", "AIPromptInformation": "Iptc4xmpExt",
    "AIPromptWriterName": "Iptc4xmpExt",
    "reservation": "tdm", "policy": "tdm",
}  # fmt: skip
"""IPTC 2025.1, and the TDM Reservation Protocol, which exiftool 12.57 does not know by name."""


@pytest.mark.parametrize("policy", ["rights", "whole"])
def test_what_is_newer_than_the_readers_is_kept(tmp_path: Path, policy: str) -> None:
    """With its namespace and its text."""
    body = "".join(f"<{prefix}:{name}>value of {name}</{prefix}:{name}>" for name, prefix in NEW.items())
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(body, Iptc4xmpExt=EXT, tdm="http://www.w3.org/ns/tdmrep/"))

    jpeg, _ = made_with(original, metadata=policy)

    for name, prefix in NEW.items():
        assert f"<{prefix}:{name}>value of {name}</{prefix}:{name}>".encode() in jpeg
    assert b"http://www.w3.org/ns/tdmrep/" in jpeg


def test_of_an_artwork_its_rights_are_kept(tmp_path: Path) -> None:
    """Who made it and whose it is, not what it looks like or where it hangs."""
    original = tmp_path / "x.jpg"
    landscape(320, 240).save(original)
    write_by_exiftool(
        original, "-XMP-iptcExt:ArtworkOrObject={AOCopyrightNotice=© Brae,AOCreator=A. Brae,AOTitle=Gull,"
        "AOSource=Skerrow House,AOSourceInvNo=7,AOPhysicalDescription=Oil}",
    )  # fmt: skip

    rights, whole = (by_exiftool(made_with(original, metadata=policy)[0]) for policy in ("rights", "whole"))

    (artwork,) = rights["XMP-iptcExt:ArtworkOrObject"]
    assert artwork == {
        "AOCopyrightNotice": "© Brae", "AOCreator": ["A. Brae"], "AOTitle": "Gull", "AOSource": "Skerrow House",
    }  # fmt: skip
    assert whole["XMP-iptcExt:ArtworkOrObject"][0]["AOPhysicalDescription"] == "Oil"


# Serial numbers

SERIALS = {
    "Exif.Photo.BodySerialNumber": "SN-4711", "Exif.Photo.LensSerialNumber": "LS-3345",
    "Exif.Image.CameraSerialNumber": "CN-0815", "Exif.Image.HostComputer": "idas-laptop",
    "Exif.Photo.CameraOwnerName": "Hedda Voe", "Xmp.aux.SerialNumber": "AN-4711", "Xmp.aux.OwnerName": "Hedda Voe",
    "Xmp.exifEX.LensSerialNumber": "XL-33",
}  # fmt: skip


def with_serials(path: Path, **more: str) -> Path:
    """Write a JPEG that tells which camera, lens and computer it comes from, and whose camera it was."""
    landscape(320, 240).save(path)
    fields = SERIALS | {key.replace("_", "."): text for key, text in more.items()}
    with pyexiv2.Image(str(path)) as image:
        image.modify_exif({key: text for key, text in fields.items() if key.startswith("Exif")})
        image.modify_xmp({key: text for key, text in fields.items() if key.startswith("Xmp")})
    return path


@pytest.mark.parametrize("policy", ["whole", "rights", "bare"])
@pytest.mark.parametrize("keep_location", [False, True])
def test_no_serial_number_is_published_unasked(tmp_path: Path, policy: str, *, keep_location: bool) -> None:
    """Searched for in the raw bytes; nor is the computer's name, or the owner's of the camera."""
    original = with_serials(tmp_path / "x.jpg")

    jpeg, _ = made_with(original, metadata=policy, keep_location=keep_location)

    assert not [text for text in SERIALS.values() if text.encode() in jpeg]


def test_serial_numbers_are_published_where_asked_for(tmp_path: Path) -> None:
    """With `keep_serials = true` and `whole`."""
    jpeg, _ = made_with(with_serials(tmp_path / "x.jpg"), keep_serials=True)

    assert not [text for text in SERIALS.values() if text.encode() not in jpeg]
    assert b"SN-4711" not in made_with(tmp_path / "x.jpg", keep_serials=True, metadata="rights")[0]


def test_the_owners_name_stays_where_it_is_the_authors(tmp_path: Path) -> None:
    """It says nothing new then."""
    named = with_serials(tmp_path / "x.jpg", Exif_Image_Artist="Hedda VOE")
    unnamed = with_serials(tmp_path / "y.jpg")

    assert by_exiftool(made_with(named)[0])["ExifIFD:OwnerName"] == "Hedda Voe"
    assert by_exiftool(made_with(unnamed, rights=Rights(creator="Hedda Voe"))[0])["ExifIFD:OwnerName"] == "Hedda Voe"
    assert "ExifIFD:OwnerName" not in by_exiftool(made_with(unnamed, rights=OWN)[0])


@pytest.mark.parametrize("keep", [False, True])
def test_no_makers_note_with_a_picture_in_it_travels(tmp_path: Path, *, keep: bool) -> None:
    """Whatever is kept: it is a small version of the unprocessed picture."""
    stream = io.BytesIO()
    landscape(64, 48).save(stream, "JPEG")
    note = b"KELP\0\0" + stream.getvalue()
    original = tmp_path / "x.jpg"
    landscape(320, 240).save(original)
    for content, travels in ((note, False), (b"KELP\0\0nothing of that kind", keep)):
        with pyexiv2.Image(str(original)) as image:
            image.modify_exif({"Exif.Photo.MakerNote": " ".join(map(str, content)), "Exif.Image.Make": "Kelpworks"})

        jpeg, _ = made_with(original, keep_location=keep, keep_serials=keep)

        assert jpeg.count(b"\xff\xd8\xff") == 1
        assert (b"KELP" in jpeg) == travels
        assert by_exiftool(jpeg)["IFD0:Make"] == "Kelpworks"


# What is left out


STORE = bytes.fromhex("63327061 0011 0010 8000 00AA00389B71")
"""The type of a store of manifests (C2PA 2.1, 11.1.4)."""


def credentials() -> bytes:
    """Return a segment APP11 that begins a store of manifests."""
    description = STORE + b"\3c2pa\0"
    inner = struct.pack(">I", 8 + len(description)) + b"jumd" + description
    box = struct.pack(">I", 8 + len(inner)) + b"jumb" + inner
    content = b"JP\0\1\0\0\0\1" + box
    return struct.pack(">BBH", 0xFF, 0xEB, len(content) + 2) + content


def test_content_credentials_are_told(tmp_path: Path) -> None:
    """They hold for the original's bytes; nothing of them travels, and nothing points to them."""
    original = tmp_path / "x.jpg"
    landscape(320, 240).save(original)
    data = original.read_bytes()
    original.write_bytes(data[:2] + credentials() + data[2:])
    remote = jpeg_with_xmp(
        tmp_path / "y.jpg", packet("<t:provenance>https://skerrow.example/m.c2pa</t:provenance>", t=TERMS)
    )
    told = jpeg_with_xmp(tmp_path / "z.jpg", packet("<t:provenance>From the estate of Brae</t:provenance>", t=TERMS))

    for path, word in (
        (original, "Content Credentials"),
        (remote, "the address of its Content Credentials"),
        (told, None),
    ):
        jpeg, made = made_with(path, keep_location=True, keep_serials=True)
        assert b"c2pa" not in jpeg
        texts = [note.text for note in made.notes if note.key == "extras-left-out"]
        assert word is None or word in texts[0]
        assert word is not None or not texts
        assert not made.doubts
    assert b"estate of Brae" in made_with(told)[0]


TERMS = "http://purl.org/dc/terms/"


def test_a_video_and_a_hierarchy_of_keywords_are_told(tmp_path: Path) -> None:
    """Each once, in one sentence; keywords that travel are not told."""
    body = "<k:hierarchicalSubject><rdf:Bag><rdf:li>Animals|Seal</rdf:li></rdf:Bag></k:hierarchicalSubject>"
    original = jpeg_with_xmp(tmp_path / "x.jpg", packet(body, k="http://skerrow.example/keywords/"))
    with original.open("ab") as stream:
        stream.write(struct.pack(">I", 24) + b"ftypmp42\0\0\0\0mp42isom" + bytes(100))

    for keep, words in ((False, ["a video", "hierarchy"]), (True, ["a video"])):
        _, made = made_with(original, keep_location=keep)
        (text,) = [note.text for note in made.notes if note.key == "extras-left-out"]
        assert [word for word in ("a video", "hierarchy") if word in text] == words


# Authors in random places

PLACES = ("exif", "iim", "xmp", "png", "plus")
OURS, ANOTHERS = "Ída Marrow", "Juno Pell"
NAMES = st.sampled_from([None, OURS, "IDA MARROW", ANOTHERS])


def original_with(path: Path, names: dict[str, str | None]) -> Path:
    """Write a PNG whose five places name these authors."""
    chunks: list[tuple[bytes, bytes]] = []
    if name := names["png"]:
        chunks.append((b"iTXt", b"Author\0\0\0\0\0" + name.encode()))
    if name := names["iim"]:
        iim = data_set(1, 90, b"\x1b%G") + data_set(2, 80, name.encode())
        chunks.append(raw_profile("iptc", block(0x0404, iim)))
    body = ""
    if name := names["xmp"]:
        body += f"<dc:creator><rdf:Seq><rdf:li>{name}</rdf:li></rdf:Seq></dc:creator>"
    if name := names["plus"]:
        body += (
            "<plus:CopyrightOwner><rdf:Seq><rdf:li rdf:parseType='Resource'><plus:CopyrightOwnerName>"
            f"{name}</plus:CopyrightOwnerName></rdf:li></rdf:Seq></plus:CopyrightOwner>"
        )
    if body:
        chunks.append((b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + packet(body).encode()))
    png_with_chunks(path, *chunks)
    if name := names["exif"]:
        data, exif = path.read_bytes(), exif_of(Artist=name).removeprefix(b"Exif\0\0")
        path.write_bytes(data[:33] + chunk(b"eXIf", exif) + data[33:])
    return path


def plain(name: str) -> str:
    """Return a name without case and accents."""
    letters = unicodedata.normalize("NFKD", name.casefold())
    return "".join(letter for letter in letters if not unicodedata.combining(letter))


def chunk(kind: bytes, content: bytes) -> bytes:
    """Return a chunk of a PNG."""
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(names=st.fixed_dictionaries(dict.fromkeys(PLACES, NAMES)), override=st.booleans())
def test_a_delivery_names_one_author_and_never_ours_where_another_stood(
    tmp_path: Path, names: dict[str, str | None], *, override: bool
) -> None:
    """Whatever stands in Exif, IIM, XMP, the text of a PNG and PLUS."""
    original = original_with(tmp_path / "x.png", names)

    jpeg, made = made_with(original, rights=Rights(creator=OURS, copyright=f"© {OURS}", override=override))

    has_ours = any(name.encode() in jpeg for name in (OURS, "IDA MARROW"))
    has_anothers = ANOTHERS.encode() in jpeg
    is_anothers = ANOTHERS in names.values()
    told = {said.key for said in made.findings}
    if override or not is_anothers:
        assert has_ours
        assert not has_anothers
    else:
        assert has_anothers
        assert "anothers-picture" in told
        found = by_exiftool(jpeg)
        authors = {found.get("IFD0:Artist"), found.get("IPTC:By-line"), *found.get("XMP-dc:Creator", [])} - {None}
        assert len({plain(author) for author in authors if author is not None}) <= 1
        ours_stood = {name for name in names.values() if name and name != ANOTHERS}
        assert not has_ours or ours_stood
        assert f"© {OURS}".encode() not in jpeg
    assert ("rights-replaced" in told) == (override and is_anothers)


def test_a_block_with_another_author_counts_wherever_it_lies(tmp_path: Path) -> None:
    """Two segments of a JPEG: the first with ours, the second with somebody else."""
    first, second = (block(0x0404, data_set(2, 80, name.encode())) for name in ("Ida Marrow", ANOTHERS))

    jpeg, made = made_with(jpeg_with_blocks(tmp_path / "x.jpg", first, second), rights=OWN)

    assert "anothers-picture" in {said.key for said in made.findings}
    assert OWN.creator is not None
    assert OWN.creator.encode() not in jpeg
