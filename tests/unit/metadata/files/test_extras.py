"""What originals hold beside their pictures: each thing in each container, what is none of them, and hostile files."""

from __future__ import annotations

import random
import struct
import time
import zlib
from collections.abc import Callable, Iterable, Mapping
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from lanternslide.metadata.files.extras import Extra, extras_of
from lanternslide.metadata.keys import Policy, travels
from lanternslide.metadata.xmp.tree import Xmp

ISO_GAIN_MAP = b"urn:iso:std:iso:ts:21496:-1\0"
PRIMARY, UNDEFINED, VGA, FULL_HD, PANORAMA, DISPARITY, ANGLE, PRESERVED, GAIN_MAP = (
    0x030000, 0, 0x010001, 0x010002, 0x020001, 0x020002, 0x020003, 0x040000, 0x050000,
)  # fmt: skip
LONGEST_TIME = 2.0
"""Seconds that a file of a few MB may take, on a slow and busy machine."""

ADDRESSES = {
    "camera": "http://ns.google.com/photos/1.0/camera/",
    "container": "http://ns.google.com/photos/1.0/container/",
    "item": "http://ns.google.com/photos/1.0/container/item/",
    "hdrgm": "http://ns.adobe.com/hdr-gain-map/1.0/",
    "apple": "http://ns.apple.com/HDRGainMap/1.0/",
    "image": "http://ns.google.com/photos/1.0/image/",
    "audio": "http://ns.google.com/photos/1.0/audio/",
    "dcterms": "http://purl.org/dc/terms/",
    "dc": "http://purl.org/dc/elements/1.1/",
    "kw": "http://www.metadataworkinggroup.com/schemas/keywords/",
    "own": "http://example.org/of-some-program/",
}


def packet(properties: str) -> bytes:
    """Return an XMP packet with *properties*, whose prefixes are those above."""
    declared = " ".join(f'xmlns:{prefix}="{address}"' for prefix, address in ADDRESSES.items() if prefix in properties)
    return (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        f'<rdf:Description rdf:about="" {declared}>{properties}</rdf:Description></rdf:RDF></x:xmpmeta>'
    ).encode()


def fields(properties: str) -> dict[str, Any]:
    """Return what such a packet says."""
    return Xmp.of(packet(properties)).fields()


def items(*attributes: str) -> str:
    """Return a directory of the data in a file."""
    listed = "".join(f"<rdf:li><container:Item {each}/></rdf:li>" for each in attributes)
    return f"<container:Directory><rdf:Seq>{listed}</rdf:Seq></container:Directory>"


def bag(name: str, *texts: str) -> str:
    """Return a property that is a list."""
    listed = "".join(f"<rdf:li>{text}</rdf:li>" for text in texts)
    return f"<{name}><rdf:Bag>{listed}</rdf:Bag></{name}>"


# Files


def picture(kind: str, size: tuple[int, int] = (64, 48), **options: Any) -> bytes:
    """Return a picture of noise, encoded."""
    noise = random.Random(7).randbytes(size[0] * size[1] * 3)
    stream = BytesIO()
    Image.frombytes("RGB", size, noise).save(stream, kind, **options)
    return stream.getvalue()


def segment(marker: int, content: bytes) -> bytes:
    """Return a segment of a JPEG."""
    return struct.pack(">BBH", 0xFF, marker, len(content) + 2) + content


def with_segments(*segments: bytes, size: tuple[int, int] = (64, 48)) -> bytes:
    """Return a JPEG with further segments behind its first two bytes."""
    jpeg = picture("JPEG", size)
    return jpeg[:2] + b"".join(segments) + jpeg[2:]


def box(kind: bytes, content: bytes, *, is_long: bool = False) -> bytes:
    """Return a box of ISO/IEC 15444-1."""
    if is_long:
        return struct.pack(">I4sQ", 1, kind, len(content) + 16) + content
    return struct.pack(">I4s", len(content) + 8, kind) + content


def store(label: bytes = b"c2pa", kind: bytes = b"c2pa", *, is_long: bool = False) -> bytes:
    """Return a box like a store of manifests."""
    type_ = kind + bytes.fromhex("0011 0010 8000 00AA00389B71")
    described = box(b"jumd", type_ + b"\x03" + label + b"\0")
    return box(b"jumb", described + box(b"jumb", bytes(3000)), is_long=is_long)


def in_app11(content: bytes, number: int = 1) -> bytes:
    """Return a box in a segment APP11."""
    return segment(0xEB, struct.pack(">2sHI", b"JP", 1, number) + content)


def end_at(place: int) -> bytes:
    """Return a JPEG whose end is so many bytes behind the head of its scan."""
    head = b"\xff\xd8" + segment(0xDA, b"")
    return head + bytes(place) + b"\xff\xd9"


def video(brand: bytes = b"mp42") -> bytes:
    """Return the beginning of a video file."""
    return box(b"ftyp", brand + bytes(4) + b"isommp42") + box(b"mdat", bytes(500))


def multi_picture(*further: tuple[int, bytes], order: str = ">", size: tuple[int, int] = (64, 48)) -> bytes:
    """Return a JPEG with an index of further pictures, and these behind it, each with its type."""
    amount = len(further) + 1
    head = (b"MM\0*" if order == ">" else b"II*\0") + struct.pack(order + "I", 8)
    directory = struct.pack(
        order + "HHHI4sHHIIHHIII", 3, 0xB000, 7, 4, b"0100", 0xB001, 4, 1, amount, 0xB002, 7, 16 * amount, 50, 0
    )
    index_bytes = 4 + len(head) + len(directory) + 16 * amount
    length = len(with_segments(segment(0xE2, bytes(index_bytes)), size=size))
    base = 2 + 4 + 4
    place = length
    entries = struct.pack(order + "IIIHH", 0x20000000 | PRIMARY, length, 0, 0, 0)
    for kind, jpeg in further:
        entries += struct.pack(order + "IIIHH", 0x40000000 | kind, len(jpeg), place - base, 0, 0)
        place += len(jpeg)
    index = segment(0xE2, b"MPF\0" + head + directory + entries)
    return with_segments(index, size=size) + b"".join(jpeg for _, jpeg in further)


def chunk(kind: bytes, content: bytes) -> bytes:
    """Return a chunk of a PNG."""
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def png(*chunks: bytes, behind: bool = False) -> bytes:
    """Return a PNG with further chunks, before its pixels or behind them."""
    whole = picture("PNG")
    at = len(whole) - 12 if behind else 33
    return whole[:at] + b"".join(chunks) + whole[at:]


def webp(kind: bytes, content: bytes) -> bytes:
    """Return a WebP with a further chunk at its end."""
    whole = picture("WEBP") + kind + struct.pack("<I", len(content)) + content + bytes(len(content) % 2)
    return whole[:4] + struct.pack("<I", len(whole) - 8) + whole[8:]


def tiff(*directories: Iterable[tuple[int, bytes]], order: str = "<", is_big: bool = False) -> bytes:
    """Return a TIFF of directories alone, each with its tags, which hold bytes."""
    wide, counter = ("Q", "Q") if is_big else ("I", "H")
    head = b"II" if order == "<" else b"MM"
    head += struct.pack(order + ("HHH" if is_big else "H"), *((43, 8, 0) if is_big else (42,)))
    body = b""
    start = len(head) + struct.calcsize(wide)
    for number, tags in enumerate(directories):
        listed = sorted(tags)
        place = start + len(body)
        entry = struct.calcsize(f"=HH{wide}{wide}")
        data_at = place + struct.calcsize(f"={counter}") + entry * len(listed) + struct.calcsize(wide)
        written, data = struct.pack(order + counter, len(listed)), b""
        for tag, content in listed:
            written += struct.pack(f"{order}HH{wide}{wide}", tag, 7, len(content), data_at + len(data))
            data += content
        following = data_at + len(data) if number + 1 < len(directories) else 0
        body += written + struct.pack(order + wide, following) + data
    return head + struct.pack(order + wide, start) + body


@pytest.fixture
def told(tmp_path: Path) -> Callable[..., tuple[Extra, ...]]:
    """Return what writes a file and says what it holds."""

    def tell(content: bytes, xmp: Mapping[str, Any] | None = None) -> tuple[Extra, ...]:
        path = tmp_path / "original"
        path.write_bytes(content)
        return extras_of(path, xmp or {})

    return tell


Told = Callable[..., tuple[Extra, ...]]

PLAIN = {
    "JPEG": picture("JPEG"),
    "progressive JPEG": picture("JPEG", progressive=True, quality=95),
    "JPEG with restarts": picture("JPEG", restart_marker_blocks=2),
    "PNG": picture("PNG"),
    "TIFF": picture("TIFF"),
    "WebP": picture("WEBP"),
}

CREDENTIALED = {
    "JPEG": with_segments(in_app11(store())),
    "JPEG, its box with a long length": with_segments(in_app11(store(is_long=True))),
    "JPEG, by the type alone": with_segments(in_app11(store(label=b""))),
    "JPEG, by the label alone": with_segments(in_app11(store(kind=b"abcd"))),
    "JPEG, behind fill bytes": with_segments(b"\xff" * 5, in_app11(store())),
    "PNG": png(chunk(b"caBX", store())),
    "PNG, behind the pixels": png(chunk(b"caBX", store()), behind=True),
    "TIFF": tiff([(256, b"1234"), (52545, store())]),
    "TIFF, in its last directory": tiff([(256, b"1234")], [(52545, store())], order=">"),
    "BigTIFF": tiff([(256, b"1234")], [(52545, store())], is_big=True),
    "BigTIFF, the other order": tiff([(52545, store())], is_big=True, order=">"),
    "WebP": webp(b"C2PA", store()),
    "WebP, behind an odd chunk": webp(b"EXIF", b"odd") + b"C2PA" + struct.pack("<I", len(store())) + store(),
}

GAIN_MAP_XMP = segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + packet("<hdrgm:Version>1.0</hdrgm:Version>"))
APPLE_XMP = segment(
    0xE1,
    b"http://ns.adobe.com/xap/1.0/\0" + packet("<apple:HDRGainMapVersion>65536</apple:HDRGainMapVersion>"),
)

GAIN_MAPPED = {
    "said in the picture": with_segments(segment(0xE2, ISO_GAIN_MAP + bytes(4))),
    "said in the map": multi_picture((UNDEFINED, with_segments(segment(0xE2, ISO_GAIN_MAP + bytes(60))))),
    "said in the map's XMP": multi_picture((UNDEFINED, with_segments(GAIN_MAP_XMP))),
    "said in the map's XMP, another vocabulary": multi_picture((UNDEFINED, with_segments(APPLE_XMP))),
    "said by its type": multi_picture((GAIN_MAP, picture("JPEG", (32, 24)))),
    "small": multi_picture((UNDEFINED, with_segments(GAIN_MAP_XMP, size=(16, 12)))),
    "beside a thumbnail": multi_picture((VGA, picture("JPEG")), (UNDEFINED, with_segments(GAIN_MAP_XMP)), order="<"),
}

MOVING = {
    "right behind": picture("JPEG") + video(),
    "behind padding": picture("JPEG") + bytes(5000) + video(b"qt  "),
    "behind a progressive picture": picture("JPEG", progressive=True, quality=95) + video(),
    "behind a picture with restarts": picture("JPEG", restart_marker_blocks=1) + video(),
    "behind another mark": picture("JPEG") + b"some mark of a maker" + video(),
    "behind a still": picture("JPEG") + video(b"heic") + video(),
    "across two windows": picture("JPEG") + bytes((1 << 20) - 6) + video(),
    "behind an end across two windows": end_at((1 << 16) - 1) + video(),
    "without a type": picture("JPEG") + box(b"mdat", bytes(999)) + box(b"moov", box(b"mvhd", bytes(100))),
    "behind many beginnings of none": picture("JPEG") + b"ftyp" * 200 + video(),
    "behind fill bytes": picture("JPEG")[:-2] + b"\xff" * 9 + b"\xff\xd9" + video(),
}

NOTHING = {
    **PLAIN,
    "zeros behind": picture("JPEG") + bytes(100_000),
    "text behind": picture("JPEG") + b"ftyp is a word, and mvhd another",
    "a still behind": picture("JPEG") + video(b"heic"),
    "a video in a segment": with_segments(segment(0xE5, video())),
    "a video in the thumbnail's place": with_segments(segment(0xE1, b"Exif\0\0" + bytes(8) + b"\xff\xd9" + video())),
    "a video in a table between two scans": picture("JPEG")[:-2] + segment(0xC4, b"\xff\xd9" + video()) + b"\xff\xd9",
    "a movie's head of its own": picture("JPEG") + box(b"free", box(b"mvhd", bytes(100))),
    "a movie's head of no length": picture("JPEG") + box(b"moov", box(b"mvhd", bytes(10))),
    "a type of odd length": picture("JPEG") + struct.pack(">I", 18) + video()[4:],
    "a type too long": picture("JPEG") + struct.pack(">I", 1 << 20) + video()[4:],
    "a type of no letters": picture("JPEG") + video(b"\x01\x02\x03\x04"),
    "another box in APP11": with_segments(in_app11(store(b"other", b"othr"))),
    "no superbox in APP11": with_segments(in_app11(box(b"json", b"{}" * 20))),
    "another kind of superbox in APP11": with_segments(in_app11(store().replace(b"jumb", b"abcd"))),
    "another beginning of APP11": with_segments(in_app11(store()).replace(b"JP", b"PJ", 1)),
    "JPEG XT": with_segments(
        in_app11(box(b"SPEC", bytes(40))), in_app11(box(b"RESI", bytes(500))), in_app11(box(b"RESI", bytes(90)), 2)
    ),
    "another program's APP11": with_segments(segment(0xEB, b"HDR_RI ver=11" + bytes(50))),
    "an empty store in PNG": png(chunk(b"caBX", b"")),
    "an empty store in TIFF": tiff([(52545, b"")]),
    "an empty store in WebP": webp(b"C2PA", b""),
    "thumbnails": multi_picture((VGA, picture("JPEG", (32, 24))), (FULL_HD, picture("JPEG", (60, 45)))),
    "a small picture of no type": multi_picture((UNDEFINED, picture("JPEG", (32, 24)))),
    "further pictures that are gone": multi_picture((DISPARITY, bytes(2000))),
    "a store behind a PNG": picture("PNG") + chunk(b"caBX", store()),
    "a WebP of one frame": webp(b"ANMF", bytes(40)),
    "a PNG of one frame": png(chunk(b"acTL", struct.pack(">II", 1, 0))),
    "other data": b"anything else" * 100,
    "empty": b"",
}


@pytest.mark.parametrize("content", CREDENTIALED.values(), ids=CREDENTIALED)
def test_credentials_in_a_file_are_found(told: Told, content: bytes) -> None:
    """In each format, wherever the store is allowed to be; an address beside it says nothing more."""
    assert told(content) == (Extra.CREDENTIALS,)
    address = fields("<dcterms:provenance>https://example.org/a.c2pa</dcterms:provenance>")
    assert told(content, address) == (Extra.CREDENTIALS,)


@pytest.mark.parametrize("kind", PLAIN)
def test_credentials_elsewhere_are_found(told: Told, kind: str) -> None:
    """By their address; a statement about a work's owners is none, nor is a place in the file itself."""
    for address in ("https://example.org/a.c2pa", "HTTP://example.org/a"):
        xmp = fields(f"<dcterms:provenance>{address}</dcterms:provenance>")
        assert told(PLAIN[kind], xmp) == (Extra.REMOTE_CREDENTIALS,)
    for text in ("From the estate of a collector", "self#jumbf=/c2pa/urn:uuid:1", ""):
        assert told(PLAIN[kind], fields(f"<dcterms:provenance>{text}</dcterms:provenance>")) == ()


@pytest.mark.parametrize("content", GAIN_MAPPED.values(), ids=GAIN_MAPPED)
def test_gain_maps_are_found(told: Told, content: bytes) -> None:
    """By what the picture says, or the map; a map is no further view."""
    assert told(content) == (Extra.GAIN_MAP,)


@pytest.mark.parametrize("kind", PLAIN)
def test_what_the_xmp_says_is_found(told: Told, kind: str) -> None:
    """In each format; marks that say no, and other data, are nothing."""
    primary = 'item:Semantic="Primary" item:Mime="image/jpeg"'
    expected = {
        "<hdrgm:Version>1.0</hdrgm:Version>": (Extra.GAIN_MAP,),
        "<apple:HDRGainMapVersion>65536</apple:HDRGainMapVersion>": (Extra.GAIN_MAP,),
        items(primary, 'item:Semantic="GainMap" item:Mime="image/jpeg"'): (Extra.GAIN_MAP,),
        items(primary, 'item:Semantic="MotionPhoto" item:Mime="video/mp4"'): (Extra.VIDEO,),
        items(primary, 'item:Semantic="Other" item:Mime="audio/mp4"'): (Extra.SOUND,),
        items(primary): (),
        "<camera:MotionPhoto>1</camera:MotionPhoto>": (Extra.VIDEO,),
        "<camera:MicroVideo>1</camera:MicroVideo>": (Extra.VIDEO,),
        "<camera:MotionPhoto>0</camera:MotionPhoto>": (),
        "<camera:MotionPhotoVersion>1</camera:MotionPhotoVersion>": (),
        "<audio:Mime>audio/mp4</audio:Mime>": (Extra.SOUND,),
        "<image:Mime>image/jpeg</image:Mime>": (Extra.VIEWS,),
        "<dc:title>GainMap, MotionPhoto</dc:title>": (),
    }
    for properties, extras in expected.items():
        assert told(PLAIN[kind], fields(properties)) == extras, properties


@pytest.mark.parametrize("content", MOVING.values(), ids=MOVING)
def test_videos_behind_a_picture_are_found(told: Told, content: bytes) -> None:
    """Wherever they begin behind the end, without a word in the XMP."""
    assert told(content) == (Extra.VIDEO,)


def test_a_sound_behind_a_picture_is_no_video(told: Told) -> None:
    """Its brand says so."""
    assert told(picture("JPEG") + video(b"M4A ")) == (Extra.SOUND,)


@pytest.mark.parametrize("kind", [PANORAMA, DISPARITY, ANGLE, PRESERVED])
@pytest.mark.parametrize("order", ["<", ">"])
def test_further_views_are_found(told: Told, kind: int, order: str) -> None:
    """Of whatever size, thumbnails beside them or not."""
    view = picture("JPEG", (32, 24))
    assert told(multi_picture((kind, view), order=order)) == (Extra.VIEWS,)
    assert told(multi_picture((VGA, view), (kind, view), (kind, view), order=order)) == (Extra.VIEWS,)


def test_a_picture_of_no_type_is_a_view_if_it_is_large(told: Told) -> None:
    """More than half as long as the first, as with the pages of a TIFF."""
    assert told(multi_picture((UNDEFINED, picture("JPEG", (33, 24))))) == (Extra.VIEWS,)
    assert told(multi_picture((UNDEFINED, picture("JPEG", (24, 33))))) == (Extra.VIEWS,)
    assert told(multi_picture((UNDEFINED, picture("JPEG", (32, 24))))) == ()


def test_another_writers_index_is_read(told: Told) -> None:
    """Pillow says of each further picture that it is of no type."""
    large, small = (Image.new("RGB", size, "teal") for size in ((64, 48), (20, 15)))
    for image, extras in ((large, (Extra.VIEWS,)), (small, ())):
        stream = BytesIO()
        large.save(stream, "MPO", save_all=True, append_images=[image])
        assert told(stream.getvalue()) == extras


def test_another_reader_takes_the_files() -> None:
    """What these tests write themselves is what they say."""
    for order in "<>":
        with Image.open(BytesIO(multi_picture((DISPARITY, picture("JPEG", (32, 24))), order=order))) as image:
            image.seek(1)
            assert (image.format, image.size) == ("MPO", (32, 24))
    for content in CREDENTIALED.values():
        if not content.startswith((b"II", b"MM")):
            with Image.open(BytesIO(content)) as image:
                image.load()


@pytest.mark.parametrize(("kind", "frames"), [("PNG", 2), ("PNG", 3), ("WEBP", 2), ("WEBP", 3)])
def test_further_frames_are_found(told: Told, kind: str, frames: int) -> None:
    """In each format that can move."""
    images = [Image.new("RGB", (64, 48), (80 * number, 0, 0)) for number in range(frames)]
    stream = BytesIO()
    images[0].save(stream, kind, save_all=True, append_images=images[1:], duration=100)
    assert told(stream.getvalue()) == (Extra.FRAMES,)


@pytest.mark.parametrize("kind", PLAIN)
def test_trees_of_keywords_are_found(told: Told, kind: str) -> None:
    """In the vocabulary that was made for them, and in any program's own; flat keywords are none."""
    inner = "<rdf:li rdf:parseType='Resource'><kw:Keyword>Seal</kw:Keyword></rdf:li>"
    hierarchy = (
        f"<kw:Keywords rdf:parseType='Resource'><kw:Hierarchy><rdf:Bag>{inner}</rdf:Bag></kw:Hierarchy></kw:Keywords>"
    )
    trees = [
        hierarchy,
        bag("own:hierarchicalSubject", "Animals", "Animals|Seals"),
        bag("own:TagsList", "Animals/Seals"),
        bag("own:tagslist", "Animals/Seals"),
        bag("own:KeywordHierarchies", "Animals|Seals|Grey"),
        "<own:hierarchicalKeywords>Animals|Seals</own:hierarchicalKeywords>",
    ]
    others = [
        bag("own:hierarchicalSubject", "Animals"),
        bag("own:Things", "Animals|Seals"),
        bag("dc:subject", "Animals|Seals", "Animals/Seals"),
        bag("dc:hierarchicalSubject", "Animals|Seals"),
    ]
    for properties in trees:
        assert told(PLAIN[kind], fields(properties)) == (Extra.KEYWORD_TREE,), properties
    for properties in others:
        assert told(PLAIN[kind], fields(properties)) == (), properties


@pytest.mark.parametrize("content", NOTHING.values(), ids=NOTHING)
def test_nothing_is_told_of_other_files(told: Told, content: bytes) -> None:
    """Plain pictures, and what only looks like something."""
    assert told(content) == ()


def test_all_is_told_in_one_order(told: Told) -> None:
    """Whatever the order in the file, and each once."""
    view = picture("JPEG")
    xmp = fields(bag("own:TagsList", "a/b") + "<camera:MotionPhoto>1</camera:MotionPhoto><audio:Mime>a</audio:Mime>")
    jpeg = multi_picture((DISPARITY, view), (UNDEFINED, with_segments(GAIN_MAP_XMP)), (ANGLE, view)) + video()
    with_store = jpeg[:2] + in_app11(store()) + jpeg[2:]
    assert told(with_store, xmp) == tuple(
        extra for extra in Extra if extra not in (Extra.REMOTE_CREDENTIALS, Extra.FRAMES)
    )
    assert told(jpeg, xmp) == (Extra.GAIN_MAP, Extra.VIDEO, Extra.SOUND, Extra.VIEWS, Extra.KEYWORD_TREE)


def test_a_file_that_is_gone_is_an_error_of_the_system(tmp_path: Path) -> None:
    """It is no damage of an original."""
    with pytest.raises(OSError, match="original"):
        extras_of(tmp_path / "original", {})


@pytest.mark.parametrize("address", [ADDRESSES["camera"], ADDRESSES["kw"]])
def test_namespaces_that_got_a_name_travel_as_before(address: str) -> None:
    """As fields of no published vocabulary do."""
    for name in ("Camera", "Keywords", "City", "Thumbnail", "FilePath"):
        known = next(iter(Xmp.of(packet_of_one(address, name)).fields()))
        unknown = next(iter(Xmp.of(packet_of_one("http://example.org/else/", name)).fields()))
        assert known != unknown
        for policy in Policy:
            for keep in (False, True):
                decide = travels("xmp", policy, keep_location=keep)
                assert decide(known) == decide(unknown), (known, policy, keep)


def packet_of_one(address: str, name: str) -> bytes:
    """Return a packet with one field of a namespace."""
    return packet(f'<of:{name} xmlns:of="{address}">1</of:{name}>')


# Hostile files

EACH = [*CREDENTIALED.values(), *GAIN_MAPPED.values(), *MOVING.values(), *NOTHING.values()]


def spoiled(content: bytes, seed: int) -> bytes:
    """Return a file cut short somewhere, or with some of its bytes changed, most of them near its beginning."""
    chance = random.Random(seed)
    changed = bytearray(content)
    for _ in range(chance.randrange(1, 12)):
        if changed:
            reach = min(len(changed), chance.choice((64, 600, len(changed))))
            changed[chance.randrange(reach)] = chance.choice((0, 1, 0xFF, 0x7F, chance.randrange(256)))
    return bytes(changed[: chance.randrange(len(changed) + 1)] if chance.random() < 0.5 else changed)


@pytest.mark.parametrize("part", range(4))
def test_spoiled_files_raise_nothing(told: Told, part: int) -> None:
    """Truncations and changed bytes, seeded; whatever is told, it is told soon."""
    small = [content for content in EACH if len(content) < 200_000]
    began = time.monotonic()
    for seed in range(600):
        extras = told(spoiled(small[seed % len(small)], 10_000 * part + seed))
        assert list(extras) == [extra for extra in Extra if extra in extras]
    assert time.monotonic() - began < 60


STARTS = (b"\xff\xd8", b"\x89PNG\r\n\x1a\n", b"RIFF\0\0\0\0WEBP", b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    start=st.sampled_from(STARTS),
    pieces=st.lists(
        st.one_of(
            st.binary(max_size=40),
            st.sampled_from([
                b"\xff\xd8", b"\xff\xd9", b"\xff\xda\0\x02", b"\xff\xe2", b"\xff\xeb", b"MPF\0", b"MM\0*", b"II*\0",
                b"\0\0\0\x08", b"ftyp", b"moov", b"mvhd", b"jumb", b"jumd", b"caBX", b"C2PA", b"\xcd\x41", b"\x41\xcd",
                b"\xb0\x02", b"\xff\xff\xff\xff", ISO_GAIN_MAP,
            ]),
        ),
        max_size=30,
    ),
)  # fmt: skip
def test_made_up_files_raise_nothing(told: Told, start: bytes, pieces: list[bytes]) -> None:
    """Of the marks that are looked for, in whatever order."""
    told(start + b"".join(pieces))


def in_a_circle() -> bytes:
    """Return a TIFF whose directories are one, with as many tags as can be."""
    return b"II*\0\x08\0\0\0" + struct.pack("<H", 65_535) + bytes(12 * 65_535) + struct.pack("<I", 8)


def all_index() -> bytes:
    """Return a JPEG whose index names thousands of pictures, all of which are one with a thousand segments."""
    further = b"\xff\xd8" + segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + bytes(60_000)) * 50
    further += segment(0xE2, b"") * 20_000
    amount = 4_000
    index = b"MM\0*" + struct.pack(">IHHHIII", 8, 1, 0xB002, 7, 16 * amount, 26, 0)
    base = 2 + 4 + 4
    place = 2 + 4 + 4 + len(index) + 16 * amount + 4 - base
    entries = struct.pack(">IIIHH", DISPARITY, 0, place, 0, 0) * amount
    return b"\xff\xd8" + segment(0xE2, b"MPF\0" + index + entries) + b"\xff\xd9\0\0" + further


LONG = {
    "segments": b"\xff\xd8" + segment(0xE2, b"") * 1_000_000,
    "fill bytes": b"\xff\xd8" + b"\xff" * 4_000_000,
    "scans": b"\xff\xd8" + segment(0xDA, b"") * 1_000_000,
    "no end": b"\xff\xd8" + segment(0xDA, b"") + b"\xff\0" * 2_000_000,
    "beginnings of videos": b"\xff\xd8\xff\xd9" + b"ftyp" * 1_000_000,
    "beginnings of directories": b"\xff\xd8\xff\xd9" + b"mvhd" * 1_000_000,
    "chunks of PNG": b"\x89PNG\r\n\x1a\n" + chunk(b"IDAT", b"") * 400_000,
    "chunks of WebP": b"RIFF\0\0\0\0WEBP" + b"ANMF\0\0\0\0" * 600_000,
    "a circle": in_a_circle(),
    "an index": all_index(),
    "a far directory": b"II+\0\x08\0\0\0" + b"\xff" * 8 + bytes(100),
    "a far chunk": b"\x89PNG\r\n\x1a\n" + b"\xff\xff\xff\xffIDAT" + bytes(100),
}


@pytest.mark.parametrize("content", LONG.values(), ids=LONG)
def test_files_made_to_mislead_take_little(told: Told, content: bytes) -> None:
    """Whatever repeats in them, and wherever they point."""
    began = time.monotonic()
    told(content)
    assert time.monotonic() - began < LONGEST_TIME
