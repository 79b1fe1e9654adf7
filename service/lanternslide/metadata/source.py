"""Reading all that an original says: Exif, XMP, IPTC IIM, the texts of a PNG, and what lies beside the picture."""

from __future__ import annotations

import re
import struct
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pyexiv2

from lanternslide.metadata.agreement import mended
from lanternslide.metadata.data import is_path
from lanternslide.metadata.files.containers import is_tiff
from lanternslide.metadata.files.extras import Extra, extras_of
from lanternslide.metadata.files.packets_in_files import (
    MOST_PACKETS,
    exif_blocks,
    extension_of,
    has_extension,
    packets_of,
    png_texts,
)
from lanternslide.metadata.files.resources import resources_of
from lanternslide.metadata.iim import Iim
from lanternslide.metadata.keys import CALLED, KINDS
from lanternslide.metadata.reading import octets_of, read_exif
from lanternslide.metadata.whose.claims import NAMES, speaks_of_somebody, texts_of
from lanternslide.metadata.whose.rights import AUTHORS_IN_PNG, NOTICES_IN_PNG
from lanternslide.metadata.xmp.tree import Xmp

__all__ = ["BROKEN", "Source", "first_line", "image_of", "reading", "take_over_texts"]

MUTE = 4
pyexiv2.set_log_level(MUTE)

EXTENDED = "Xmp.xmpNote.HasExtendedXMP"
"""The digest of what did not fit into the packet (XMP specification part 3, 1.1.3.1)."""

MARKED, ADDRESS = "Xmp.xmpRights.Marked", "Xmp.xmpRights.WebStatement"
"""What the mark and the address of image resource blocks are in XMP (XMP specification part 3, table 14)."""

IN_XMP = {
    "Iptc.Application2.Byline": "Xmp.dc.creator", "Iptc.Application2.BylineTitle": "Xmp.photoshop.AuthorsPosition",
    "Iptc.Application2.Copyright": "Xmp.dc.rights", "Iptc.Application2.Credit": "Xmp.photoshop.Credit",
    "Iptc.Application2.Source": "Xmp.photoshop.Source", "Iptc.Application2.ObjectName": "Xmp.dc.title",
    "Iptc.Application2.Headline": "Xmp.photoshop.Headline", "Iptc.Application2.Caption": "Xmp.dc.description",
    "Iptc.Application2.SpecialInstructions": "Xmp.photoshop.Instructions",
}  # fmt: skip
"""What fields of IIM are called in XMP (IPTC Photo Metadata Standard 2025.1)."""

PNG_WORDS = (
    (("title",), "Xmp.dc.title", ("Iptc.Application2.ObjectName", "Exif.Photo.ImageTitle")),
    (("description",), "Xmp.dc.description", ("Iptc.Application2.Caption", "Exif.Image.ImageDescription")),
    (AUTHORS_IN_PNG, "Xmp.dc.creator", ("Iptc.Application2.Byline", "Exif.Image.Artist")),
    (
        NOTICES_IN_PNG, "Xmp.dc.rights",
        ("Iptc.Application2.Copyright", "Exif.Image.Copyright"),
    ),
    (("credit",), "Xmp.photoshop.Credit", ("Iptc.Application2.Credit",)),
    (("license", "licence", "disclaimer", "warning"), "Xmp.xmpRights.UsageTerms", ()),
)  # fmt: skip
"""What text chunks of a PNG (third edition, 11.3.3.1) become in XMP, where neither that nor the other fields say it."""

WIDE, CHARSET = "Exif.Image.XP", re.compile(r'^charset="?\w+"? ')
"""How the keys of texts in UTF-16 begin, and how the library shows the set of a comment (Exif 3.0, 4.6.6)."""

BROKEN = (RuntimeError, ValueError, ArithmeticError, LookupError, TypeError, AttributeError, MemoryError, struct.error)
"""What reading or writing may raise where metadata is damaged, hostile, or too large for its place.

Nothing of it may stop a delivery; each is told as left behind. What the system says of a disk is none of them.
"""


@dataclass(slots=True)
class Source:
    """What an original says, and what of it could not be read."""

    image: Any
    xmp: Xmp = field(default_factory=Xmp)
    iim: Iim = field(default_factory=Iim)
    anew: dict[str, str] = field(default_factory=dict)  #: Exif whose text has to be written anew.
    fields: dict[str, dict[str, Any]] = field(default_factory=lambda: {kind: {} for kind in KINDS})
    damaged: frozenset[str] = frozenset()  #: Exif that is none.
    pictures: frozenset[str] = frozenset()  #: Exif that holds a JPEG.
    empty: frozenset[str] = frozenset()  #: Exif that says nothing.
    left: list[str] = field(default_factory=list)  #: What could not be read, for a person.
    iim_is_newer: bool = False  #: Whether IIM was changed after XMP.
    unread: list[str] = field(default_factory=list)  #: Blocks that could not be read: whose picture it is may be there.
    texts: dict[str, list[str]] = field(default_factory=dict)  #: Text chunks of PNG, by keyword in lower case.
    further: list[dict[str, dict[str, Any]]] = field(default_factory=list)  #: What other blocks say, by kind.
    paths: frozenset[str] = frozenset()  #: Fields of Exif and IIM that say where a file lies on somebody's computer.
    trimmed: dict[str, list[str]] = field(default_factory=dict)  #: What stays of lists with such a text in them.
    extras: tuple[Extra, ...] = ()  #: What the file holds beside its picture.


@contextmanager
def reading(original: Path) -> Iterator[Source]:
    """Read what the *original* says; its Exif can be copied as long as this lasts.

    What cannot be read is noted, and stops nothing.
    """
    try:
        image = image_of(original)
    except (RuntimeError, UnicodeError) as error:
        reason = first_line(error).removeprefix(f"{original}: ")
        source = Source(image=None, left=[reason], unread=["all"])
        _read(source, original)
        yield source
        return
    try:
        source = Source(image=image)
        _read(source, original)
        yield source
    finally:
        image.close()


def image_of(original: Path) -> pyexiv2.Image:
    """Return what reads the metadata of *original*.

    On Windows exiv2 takes only names in the letters of one old code page (its discussion 2795): others are read whole.
    """
    if sys.platform == "win32" and not str(original).isascii():
        return pyexiv2.ImageData(original.read_bytes())
    return pyexiv2.Image(str(original))


def _read(source: Source, original: Path) -> None:
    """Read all that an original says; what is damaged is noted as left behind."""
    for kind, reader in (
        ("exif", _read_exif),
        ("xmp", _read_xmp),
        ("iptc", _read_resources),
        ("png", _read_texts),
        ("extras", _read_extras),
    ):
        try:
            reader(source, original)
        except BROKEN as error:
            source.left.append(f"{CALLED[kind]}: {first_line(error)}")
            source.unread.append(kind)
    try:
        _leave_paths(source)
        letters = mended(source.fields)
    except BROKEN as error:
        source.left.append(f"{CALLED['exif']}: {first_line(error)}")
        source.unread.append("exif")
    else:
        source.fields["exif"] |= letters
        source.anew |= letters


def _leave_paths(source: Source) -> None:
    """Take out what says where a file lies on somebody's computer: it does not travel, and names nobody for sure."""
    for kind in ("exif", "iptc"):
        kept: dict[str, Any] = {}
        for key, value in source.fields[kind].items():
            texts = value if isinstance(value, list) else [value]
            rest = [text for text in texts if not is_path(_plain_text(key, text))]
            if len(rest) == len(texts):
                kept[key] = value
                continue
            if key in NAMES[kind]:
                source.unread.append(kind)
            if rest and kind == "iptc":
                kept[key] = source.trimmed[key] = rest
            else:
                source.paths |= {key}
        source.fields[kind] = kept


def _plain_text(key: str, value: Any) -> str:
    """Return a text of Exif or IIM; two kinds of it say first, or throughout, how they are coded."""
    text = str(value)
    if key.startswith(WIDE) and (octets := octets_of(text)):
        return octets.decode("utf-16-le", "replace")
    return CHARSET.sub("", text)


def _read_texts(source: Source, original: Path) -> None:
    source.texts = png_texts(original)


def _read_extras(source: Source, original: Path) -> None:
    source.extras = extras_of(original, source.fields["xmp"])


def _read_exif(source: Source, original: Path) -> None:
    if source.image is not None:
        found = read_exif(source.image)
        source.fields["exif"], source.anew = found.fields, found.anew
        source.damaged, source.pictures, source.empty = found.damaged, found.pictures, found.empty
        if source.damaged & NAMES["exif"].keys():
            source.unread.append("exif")
        _read_within_exif(source, original)
    if exif_blocks(original) > 1:
        source.left.append(f"{CALLED['exif']}: a second block")
        source.unread.append("exif")


def _read_within_exif(source: Source, original: Path) -> None:
    """Read XMP and IIM that stand in Exif, as in a TIFF (tags 700 and 33723); no other file should have them there."""
    if is_tiff(original):
        return
    packet, sets = (octets_of(source.fields["exif"].get(f"Exif.Image.{name}", "")) for name in ("XMLPacket", "IPTCNAA"))
    if packet:
        try:
            _read_further(source, Xmp.of(packet))
        except BROKEN as error:
            source.left.append(f"{CALLED['xmp']}: {first_line(error)}")
            source.unread.append("xmp")
    if sets:
        iim = Iim.of([sets])
        source.further.append({"iptc": iim.fields()})
        if iim.fault or any(key in NAMES["iptc"] for key in iim.unread()):
            source.left.append(f"{CALLED['iptc']}: {iim.fault or 'in letters that are not known'}")
            source.unread.append("iptc")


def _read_resources(source: Source, original: Path) -> None:
    found = resources_of(original)
    source.iim_is_newer = found.iim_is_newer
    source.iim = Iim.of(found.iim)
    source.fields["iptc"] = source.iim.fields()
    if fault := found.fault or source.iim.fault:
        source.left.append(f"{CALLED['iptc']}: {fault}")
        source.unread.append("iptc")
    if unknown := source.iim.unread():
        source.left.append(
            f"{CALLED['iptc']}: the letters of {', '.join(key.split('.')[-1] for key in unknown)} are not known"
        )
        if any(key in NAMES["iptc"] for key in unknown):
            source.unread.append("iptc")
    _keep_outgrown(source)
    words = {MARKED: "True" if found.is_marked else None, ADDRESS: found.address}
    _add_to_xmp(source, {key: text for key, text in words.items() if text and key not in source.fields["xmp"]})


def _keep_outgrown(source: Source) -> None:
    """Have XMP say what IIM has no more room for once it is written in UTF-8."""
    words: dict[str, Any] = {}
    for key, text in source.iim.outgrown().items():
        same = IN_XMP.get(key)
        if same is not None and not texts_of(source.fields["xmp"].get(same, "")):
            words[same] = [text] if same == "Xmp.dc.creator" else _spoken(same, text)
    _add_to_xmp(source, words)


def take_over_texts(source: Source) -> None:
    """Have XMP say what the text chunks of a PNG say and nothing else does."""
    said = source.fields["xmp"] | source.fields["iptc"] | source.fields["exif"]
    words: dict[str, Any] = {}
    for keywords, key, others in PNG_WORDS:
        every = [found for keyword in keywords for found in source.texts.get(keyword, [])]
        texts = list(dict.fromkeys(text for found in every if (text := found.strip("\0 \t\r\n"))))
        if texts and not any(texts_of(said.get(place, "")) for place in (key, *others)):
            words[key] = texts if key == "Xmp.dc.creator" else _spoken(key, "; ".join(texts))
    _add_to_xmp(source, words)


def _spoken(key: str, text: str) -> Any:
    """Return a text as a field of XMP has it: by language, or alone."""
    return text if key.startswith("Xmp.photoshop.") else {"x-default": text}


def _add_to_xmp(source: Source, words: Mapping[str, Any]) -> None:
    if words:
        source.xmp.change(words)
        source.fields["xmp"] = source.xmp.fields()


def _read_xmp(source: Source, original: Path) -> None:
    packets = packets_of(original)
    if not packets:
        return
    whole, damaged = _sorted_out(packets)
    if not whole:
        raise ValueError(damaged[0])
    source.xmp = whole[0]
    source.fields["xmp"] = source.xmp.fields()
    if damaged:
        source.left.append(f"{CALLED['xmp']}: {damaged[0]}")
        source.unread.append("xmp")
    for further in whole[1:]:
        _read_further(source, further)
    digest = source.fields["xmp"].get(EXTENDED)
    if digest is not None or has_extension(original):
        _read_extension(source, original, str(digest or ""))
    if source.xmp.lost:
        source.left.append(f"{CALLED['xmp']}: a part of {', '.join(map(_spelt, source.xmp.lost))}")
        if any(speaks_of_somebody(key) for key in source.xmp.lost):
            source.unread.append("xmp")


def _sorted_out(packets: Sequence[bytes]) -> tuple[list[Xmp], list[str]]:
    """Return what the whole ones of some packets say, and what is wrong with the others."""
    whole: list[Xmp] = []
    damaged: list[str] = []
    for packet in packets[:MOST_PACKETS]:
        try:
            whole.append(Xmp.of(packet))
        except BROKEN as error:
            damaged.append(first_line(error))
    if len(packets) > MOST_PACKETS:
        damaged.append("more packets than anybody writes")
    return whole, damaged


def _read_further(source: Source, xmp: Xmp) -> None:
    """Read what another packet says; nothing of it travels."""
    source.further.append({"xmp": xmp.fields()})
    if any(speaks_of_somebody(key) for key in xmp.lost):
        source.unread.append("xmp")


def _spelt(key: str) -> str:
    """Return a key as XMP itself spells it: ``dc:creator``."""
    return key.removeprefix("Xmp.").replace(".", ":", 1)


def _read_extension(source: Source, original: Path, digest: str) -> None:
    extension = extension_of(original, digest)
    if not extension:
        source.left.append(f"{CALLED['xmp']}: its extension is missing or damaged")
        source.unread.append("xmp")
        return
    source.xmp = source.xmp.and_also(Xmp.of(extension))
    source.fields["xmp"] = source.xmp.fields()


def first_line(error: Exception) -> str:
    """Return what an error says, in one line."""
    return (str(error).strip().splitlines() or [type(error).__name__])[0]
