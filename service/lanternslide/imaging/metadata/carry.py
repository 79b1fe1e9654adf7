"""Carrying Exif, IPTC and XMP from an original into a delivery.

The original is opened by path and only read. What describes the original's file rather than the picture (its
structure, orientation, embedded previews, history) never travels; the rest as the destination's policy says.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pyexiv2

from lanternslide.imaging.metadata.claims import NAMES, claims_of, speaks_of_somebody, texts_of
from lanternslide.imaging.metadata.iim import Iim, longest
from lanternslide.imaging.metadata.keys import AUTHOR, KINDS, Policy, holds_picture, is_of_maker, travels
from lanternslide.imaging.metadata.originals import extension_of, packet_of, png_texts
from lanternslide.imaging.metadata.packets import with_xmp
from lanternslide.imaging.metadata.reading import read_exif
from lanternslide.imaging.metadata.resources import resources_of, with_iim
from lanternslide.imaging.metadata.rights import about_of, agreed, capture_date
from lanternslide.imaging.metadata.tree import Xmp
from lanternslide.records import About, Rights

__all__ = ["Carried", "Wishes", "carry_metadata"]

MUTE = 4
pyexiv2.set_log_level(MUTE)

INTEROPERABILITY = "Exif.Iop.InteroperabilityIndex"
"""Which colour space a picture without profile is in (DCF 2.0, JEITA CP-3461A)."""

EXTENDED = "Xmp.xmpNote.HasExtendedXMP"
"""The digest of what did not fit into the packet (XMP specification part 3, 1.1.3.1)."""

MARKED, ADDRESS = "Xmp.xmpRights.Marked", "Xmp.xmpRights.WebStatement"
"""What the mark and the address of image resource blocks are in XMP (XMP specification part 3, table 14)."""

PNG_WORDS = (
    ("title", "Xmp.dc.title", ("Iptc.Application2.ObjectName", "Exif.Photo.ImageTitle")),
    ("description", "Xmp.dc.description", ("Iptc.Application2.Caption", "Exif.Image.ImageDescription")),
    ("author", "Xmp.dc.creator", ("Iptc.Application2.Byline", "Exif.Image.Artist")),
    ("copyright", "Xmp.dc.rights", ("Iptc.Application2.Copyright", "Exif.Image.Copyright")),
)
"""What text chunks of a PNG (third edition, 11.3.3.1) become in XMP, where neither that nor the other fields say it."""

POINTERS = frozenset({"Exif.Image.ExifTag", "Exif.Image.GPSTag", "Exif.Photo.InteroperabilityTag"})
"""Where further directories stand (Exif 3.0, 4.6.3); the library writes them anew."""

PARTS = ("exif", "iptc", "xmp", "comment", "icc", "thumbnail")
"""All that the library can copy from file to file."""

BROKEN = (RuntimeError, UnicodeError, ValueError)
"""What the library raises where metadata is damaged, or too large for its place."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Wishes:
    """What is to travel with a delivery, and what its file is."""

    policy: Policy
    keep_location: bool
    rights: Rights
    width: int  #: Pixels of the delivery.
    height: int
    year: str  #: Of the original's file, for one that does not say when it was taken.


NOTHING = About()


@dataclass(frozen=True, kw_only=True, slots=True)
class Carried:
    """A delivery with its metadata."""

    jpeg: bytes
    left_behind: tuple[str, ...] = ()  #: What could not be read, or not be written, for a person.
    too_large: tuple[str, ...] = ()  #: What did not fit into a JPEG, for a person.
    lacks_rights: bool = False  #: Whether rights data were there, and the destination wants none.
    captured: str | None = None  #: The day on which the picture was taken (ISO 8601), as far as it says.
    about: About = NOTHING  #: What the delivery's metadata say in words.
    year: str | None = None  #: The year of the file, where that stands for the one of capture.
    anothers: tuple[str, ...] = ()  #: What the original says of somebody else, so that own rights were not added.
    replaced: tuple[str, ...] = ()  #: What the original said of somebody else, and own rights have replaced.
    is_unread: bool = False  #: Whether own rights were not added since it could not be read what is there.


@dataclass(slots=True)
class _Source:
    """What an original says."""

    image: Any
    xmp: Xmp = field(default_factory=Xmp)
    iim: Iim = field(default_factory=Iim)
    anew: dict[str, str] = field(default_factory=dict)  #: Exif whose text has to be written anew.
    fields: dict[str, dict[str, Any]] = field(default_factory=lambda: {kind: {} for kind in KINDS})
    damaged: frozenset[str] = frozenset()  #: Exif that is none.
    left: list[str] = field(default_factory=list)
    too_large: list[str] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)  #: Blocks that could not be read: whose picture it is may be there.
    texts: dict[str, list[str]] = field(default_factory=dict)  #: Text chunks of PNG, by keyword in lower case.


def carry_metadata(original: Path, jpeg: bytes, wishes: Wishes) -> Carried:
    """Return *jpeg* (the delivery, without metadata but for its profile) with what *wishes* want of *original*.

    What cannot be read or written is left behind and named; it never stops a delivery.
    """
    try:
        image = _image_of(original)
    except (RuntimeError, UnicodeError) as error:
        image, unread = None, [_first_line(error)]
    else:
        unread = []
    source = _Source(image=image, left=unread, unread=list(unread))
    try:
        _read(source, original)
        return _carried(source, jpeg, wishes)
    finally:
        if image is not None:
            image.close()


def _image_of(original: Path) -> pyexiv2.Image:
    """Return what reads the metadata of *original*.

    On Windows exiv2 takes only names in the letters of one old code page (its discussion 2795): others are read whole.
    """
    if sys.platform == "win32" and not str(original).isascii():
        return pyexiv2.ImageData(original.read_bytes())
    return pyexiv2.Image(str(original))


def _carried(source: _Source, jpeg: bytes, wishes: Wishes) -> Carried:
    captured = capture_date(source.fields)
    if wishes.policy is Policy.BARE:
        has_rights = any(source.fields[kind].get(key) for kind, keys in AUTHOR.items() for key in keys)
        return Carried(jpeg=jpeg, lacks_rights=has_rights, captured=captured)
    claims, unread = claims_of({**source.fields, "png": source.texts}, wishes.rights), tuple(source.unread)
    _take_over_texts(source)
    has_own = any((wishes.rights.creator, wishes.rights.copyright, wishes.rights.contact))
    is_anothers = not wishes.rights.override and bool(claims or unread)
    own = agreed(
        source.fields, wishes.rights, captured[:4] if captured else wishes.year, is_anothers=is_anothers,
        replaces=has_own and bool(claims),
    )  # fmt: skip
    for kind, write in (("exif", _with_exif), ("iptc", _with_iptc), ("xmp", _with_xmp)):
        try:
            jpeg = write(source, jpeg, wishes, own[kind])
        except BROKEN as error:
            source.left.append(f"{kind}: {_first_line(error)}")
    about = about_of(source.fields, own)
    if wishes.policy is not Policy.WHOLE:
        about = replace(about, captured=None)
    notice = None if is_anothers else wishes.rights.copyright
    guesses = captured is None and notice is not None and "{year}" in notice
    return Carried(
        jpeg=jpeg,
        left_behind=tuple(source.left),
        too_large=tuple(source.too_large),
        captured=captured,
        about=about,
        year=wishes.year if guesses else None,
        anothers=claims.others if has_own and not wishes.rights.override else (),
        replaced=claims.others if has_own and wishes.rights.override else (),
        is_unread=has_own and is_anothers and not claims,
    )


# Reading


def _read(source: _Source, original: Path) -> None:
    """Read all that an original says; what is damaged is noted as left behind."""
    for kind, read in (("exif", _read_exif), ("xmp", _read_xmp), ("iptc", _read_resources), ("png", _read_texts)):
        try:
            read(source, original)
        except BROKEN as error:
            source.left.append(f"{kind}: {_first_line(error)}")
            source.unread.append(kind)


def _read_texts(source: _Source, original: Path) -> None:
    source.texts = png_texts(original)


def _read_exif(source: _Source, _: Path) -> None:
    if source.image is not None:
        source.fields["exif"], source.anew, source.damaged = read_exif(source.image)
        source.left.extend(f"exif: {key.rsplit('.', 1)[-1]} is damaged" for key in sorted(source.damaged))
        if source.damaged & NAMES["exif"].keys():
            source.unread.append("exif")


def _read_resources(source: _Source, original: Path) -> None:
    found = resources_of(original)
    source.iim = Iim.of(found.iim)
    source.fields["iptc"] = source.iim.fields()
    if fault := found.fault or source.iim.fault:
        source.left.append(f"iptc: {fault}")
        source.unread.append("iptc")
    if unknown := source.iim.unread():
        source.left.append(f"iptc: nobody can tell the letters of {', '.join(key.split('.')[-1] for key in unknown)}")
        if any(key in NAMES["iptc"] for key in unknown):
            source.unread.append("iptc")
    words = {MARKED: "True" if found.is_marked else None, ADDRESS: found.address}
    _add_to_xmp(source, {key: text for key, text in words.items() if text and key not in source.fields["xmp"]})


def _take_over_texts(source: _Source) -> None:
    """Have XMP say what the text chunks of a PNG say and nothing else does."""
    said = source.fields["xmp"] | source.fields["iptc"] | source.fields["exif"]
    words: dict[str, Any] = {}
    for keyword, key, others in PNG_WORDS:
        texts = [text for found in source.texts.get(keyword, []) if (text := found.strip("\0 \t\r\n"))]
        if texts and not any(texts_of(said.get(place, "")) for place in (key, *others)):
            words[key] = texts if key == "Xmp.dc.creator" else {"x-default": texts[0]}
    _add_to_xmp(source, words)


def _add_to_xmp(source: _Source, words: Mapping[str, Any]) -> None:
    if words:
        source.xmp.change(words)
        source.fields["xmp"] = source.xmp.fields()


def _read_xmp(source: _Source, original: Path) -> None:
    packet = packet_of(original)
    if not packet:
        return
    source.xmp = Xmp.of(packet)
    source.fields["xmp"] = source.xmp.fields()
    if source.xmp.lost:
        source.left.append(f"xmp: a part of {', '.join(source.xmp.lost)}")
        if any(speaks_of_somebody(key) for key in source.xmp.lost):
            source.unread.append("xmp")
    digest = source.fields["xmp"].get(EXTENDED)
    if digest is not None:
        _read_extension(source, original, str(digest))


def _read_extension(source: _Source, original: Path, digest: str) -> None:
    extension = extension_of(original, digest)
    if not extension:
        source.left.append("xmp: its extension is missing or damaged")
        source.unread.append("xmp")
        return
    source.xmp = source.xmp.and_also(Xmp.of(extension))
    source.fields["xmp"] = source.xmp.fields()


# Writing


def _with_exif(source: _Source, jpeg: bytes, wishes: Wishes, own: Mapping[str, Any]) -> bytes:
    chosen = travels("exif", wishes.policy, keep_location=wishes.keep_location)

    # Nothing can be taken out of a maker's note without a trace.
    has_pictures = any(holds_picture(key) for key in source.fields["exif"])

    def keep(key: str) -> bool:
        return chosen(key) and key not in source.damaged and not (has_pictures and is_of_maker(key))

    if not own and not any(keep(key) for key in source.fields["exif"]):
        return jpeg
    try:
        return _write_exif(source, jpeg, wishes, own, keep)
    except RuntimeError as error:
        # What a camera's maker has put there can be too large; the rest must not be lost for it.
        written = _write_exif(source, jpeg, wishes, own, lambda key: keep(key) and not is_of_maker(key))
        source.too_large.append(f"exif: the maker note ({_first_line(error)})")
        return written


def _write_exif(source: _Source, jpeg: bytes, wishes: Wishes, own: Mapping[str, Any], keep: Any) -> bytes:
    with pyexiv2.ImageData(jpeg) as target:
        if source.fields["exif"]:
            source.image.copy_to_another_image(target, **{part: part == "exif" for part in PARTS})
        carried = target.read_exif(encoding="latin-1")
        changes: dict[str, Any] = {key: None for key in carried if not keep(key)}
        changes |= {key: text for key, text in source.anew.items() if keep(key)}
        changes |= _about_the_delivery(carried, wishes)
        target.modify_exif(changes | dict(own))
        target.clear_thumbnail()
        if still := [key for key in target.read_exif(encoding="latin-1") if not keep(key) and not changes.get(key)]:
            raise ValueError(f"{still[0]} could not be taken out")
        wanted = {**source.fields["exif"], **own}
        expected = {key for key, value in wanted.items() if value is not None and (key in own or keep(key))}
        written = bytes(target.get_bytes())
    source.too_large.extend(_missing(written, expected))
    return written


def _missing(jpeg: bytes, expected: set[str]) -> list[str]:
    """Return what the library has left out of a JPEG's Exif without a word: large fields, so that it fits in 64 KB."""
    with pyexiv2.ImageData(jpeg) as delivered:
        there = delivered.read_exif_detail(encoding="latin-1")
    missing = sorted(key.rsplit(".", 1)[-1] for key in expected - set(there) if not _is_no_field(key))
    return [f"exif: {', '.join(missing)}"] if missing else []


def _is_no_field(key: str) -> bool:
    """Return whether a key is part of a maker note, or only says where other fields stand."""
    return is_of_maker(key) or key.startswith("Exif.MakerNote.") or key in POINTERS


def _about_the_delivery(carried: Mapping[str, Any], wishes: Wishes) -> dict[str, str]:
    """Return the Exif tags that speak of the file (Exif 3.0: orientation, pixel dimensions, colour space)."""
    changes = {
        "Exif.Image.Orientation": "1",
        "Exif.Photo.ColorSpace": "1",
        "Exif.Photo.PixelXDimension": str(wishes.width),
        "Exif.Photo.PixelYDimension": str(wishes.height),
    }
    if INTEROPERABILITY in carried:
        changes[INTEROPERABILITY] = "R98"  # sRGB (DCF 2.0)
    return changes


def _with_iptc(source: _Source, jpeg: bytes, wishes: Wishes, own: Mapping[str, Any]) -> bytes:
    keep = travels("iptc", wishes.policy, keep_location=wishes.keep_location)
    fitting = {key: value for key, value in own.items() if value is None or _fits(key, value)}
    iim = source.iim.written(keep, {**dict.fromkeys(own), **fitting})
    return with_iim(jpeg, iim) if iim else jpeg


def _fits(key: str, value: Any) -> bool:
    """Return whether a value is short enough for IIM; a longer one stands in Exif and XMP alone."""
    most = longest(key)
    return most is None or all(len(text.encode()) <= most for text in texts_of(value))


def _with_xmp(source: _Source, jpeg: bytes, wishes: Wishes, own: Mapping[str, Any]) -> bytes:
    about_the_file = {
        "Xmp.tiff.Orientation": "1",
        "Xmp.exif.PixelXDimension": str(wishes.width),
        "Xmp.exif.PixelYDimension": str(wishes.height),
        "Xmp.exif.ColorSpace": "1",
        "Xmp.dc.format": "image/jpeg",
    }

    def written(policy: Policy) -> bytes:
        keep = travels("xmp", policy, keep_location=wishes.keep_location)
        kept = source.xmp.kept(keep)
        there = source.fields["xmp"]
        kept.change({key: value for key, value in about_the_file.items() if key in there and keep(key)})
        kept.change(own)
        return with_xmp(jpeg, kept) if kept.properties else jpeg

    try:
        return written(wishes.policy)
    except BROKEN as error:
        source.too_large.append(f"xmp: all but rights ({_first_line(error)})")
        return written(Policy.RIGHTS)


def _first_line(error: Exception) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0]
