"""What Exif, XMP and IPTC IIM say alike: where they contradict one another, the most trusted one's word goes to all.

Source: Metadata Working Group, "Guidelines for Handling Image Metadata" 2.0 (2010), section 5: Exif before XMP before
IIM; IIM before XMP where the digest beside it shows that IIM was changed since. A place that says nothing stays empty.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from lanternslide.metadata.iim import longest
from lanternslide.metadata.keys import CALLED
from lanternslide.metadata.whose.claims import texts_of

__all__ = ["THE_AUTHOR", "THE_COPYRIGHT", "Contradiction", "agreed_words", "contradictions", "mended"]

Fields = Mapping[str, Mapping[str, Any]]
Changes = dict[str, dict[str, Any]]

DEFAULT = "x-default"
NOTICE = "Exif.Image.Copyright"


@dataclass(frozen=True, kw_only=True, slots=True)
class Contradiction:
    """A matter on which an original says different things."""

    what: str  #: For a person.
    place: str  #: Whose word counts: ``Exif``, ``XMP`` or ``IPTC``.


@dataclass(frozen=True, kw_only=True, slots=True)
class _Matter:
    """What three fields say alike."""

    what: str
    keys: Mapping[str, str]  #: The field of each kind.
    read: Callable[[Fields, str, str], list[str]]  #: What a field says: fields, kind and key.
    is_same: Callable[[list[str], list[str]], bool]
    write: Callable[[Fields, str, list[str]], dict[str, Any]]  #: What to write: fields, kind and texts.
    copy: str  #: A field of XMP that says the same once more (XMP specification part 2; Exif 2.32 for XMP).


def agreed_words(found: Fields, *, iim_is_newer: bool, without: Sequence[str] = ()) -> Changes:
    """Return what to write for each kind, so that none contradicts the most trusted, but for some matters."""
    changes: Changes = {kind: {} for kind in found}
    for matter in MATTERS:
        said = _said(matter, found, iim_is_newer=iim_is_newer)
        if matter.what in without or not said:
            continue
        _, chosen = _chosen(matter, said)
        copy = matter.read(found, "xmp", matter.copy)
        if copy and not matter.is_same(copy, chosen):
            changes["xmp"][matter.copy] = None
        for kind, texts in said.items():
            if kind == "iptc" and _is_cut(*_joined(texts, chosen)):
                continue  # IIM has no room for more
            is_off = not matter.is_same(texts, chosen) or _is_worse(texts, chosen) or _is_misread(texts, chosen)
            if texts != chosen and is_off:
                changes[kind] |= matter.write(found, kind, chosen)
    return changes


def contradictions(
    found: Fields, *, iim_is_newer: bool, keep: Callable[[str, str], bool], without: Sequence[str] = ()
) -> tuple[Contradiction, ...]:  # fmt: skip
    """Return the matters on which the kinds contradict one another, and whose word counts, but for some matters.

    *keep* says which fields travel (kind and key): of others there is nothing to tell.
    """
    told = []
    for matter in MATTERS:
        said = _said(matter, found, iim_is_newer=iim_is_newer)
        if len(said) < 2 or matter.what in without or not any(keep(kind, matter.keys[kind]) for kind in said):
            continue
        place, chosen = _chosen(matter, said)
        if any(
            not matter.is_same(texts, chosen) for kind, texts in said.items() if not _is_cameras(found, kind, texts)
        ):
            told.append(Contradiction(what=matter.what, place=CALLED[place]))
    return tuple(told)


def _said(matter: _Matter, found: Fields, *, iim_is_newer: bool) -> dict[str, list[str]]:
    """Return what each kind says that says anything, the most trusted first."""
    order = ("exif", "iptc", "xmp") if iim_is_newer else ("exif", "xmp", "iptc")
    said = {kind: texts for kind in order if (texts := matter.read(found, kind, matter.keys[kind]))}
    # What a camera writes into every picture is nobody's word.
    if len(said) > 1 and "exif" in said and _is_cameras(found, "exif", said["exif"]):
        said["exif"] = said.pop("exif")
    return said


def _chosen(matter: _Matter, said: Mapping[str, list[str]]) -> tuple[str, list[str]]:
    """Return whose word counts, and the word; of two that are the same but for lost letters the whole one."""
    place, first = next(iter(said.items()))
    for kind, texts in said.items():
        is_better = _is_worse(first, texts) or (kind == "xmp" and _is_misread(first, texts))
        if matter.is_same(first, texts) and is_better:
            return kind, texts
    return place, first


def mended(found: Fields) -> dict[str, str]:
    """Return the Exif texts that are what XMP says but for letters that were lost or misread, as XMP says them.

    Exif does not say in which letters it is written; XMP does.
    """
    changes: dict[str, str] = {}
    for matter in MATTERS[:3]:
        key = matter.keys["exif"]
        exif, xmp = (matter.read(found, kind, matter.keys[kind]) for kind in ("exif", "xmp"))
        if exif and xmp and (_is_lossy(*_joined(exif, xmp)) or _is_misread(exif, xmp)):
            changes[key] = "; ".join(xmp)
    return changes


# Texts


def _plain(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).split())


def _is_lossy(short: str, whole: str) -> bool:
    """Return whether *short* is *whole* with question marks for letters that its set lacks."""
    return (
        len(short) == len(whole)
        and "?" in short
        and all(a in (b, "?") and (a == b or not b.isascii()) for a, b in zip(short, whole, strict=True))
    )


def _is_cut(short: str, whole: str) -> bool:
    """Return whether *short* is *whole* up to a limit of IIM, or to a letter that would go beyond it."""
    length = len(short.encode())
    is_at_limit = any(limit - LETTER < length <= limit for limit in LIMITS)
    return is_at_limit and len(short) < len(whole) and whole.startswith(short)


LETTER = 4
"""Octets of the longest letter in UTF-8 (RFC 3629)."""

LIMITS = sorted({
    limit for name in ("Byline", "Copyright", "Caption") if (limit := longest(f"Iptc.Application2.{name}"))
})  # fmt: skip


def _is_worse(texts: Sequence[str], whole: Sequence[str]) -> bool:
    """Return whether *texts* are *whole* with letters lost, or cut off."""
    one, other = _joined(texts, whole)
    return one != other and (_is_lossy(one, other) or _is_cut(one, other))


SETS = ("cp1252", "mac_roman", "iso8859-1", "cp1250", "iso8859-2", "cp1251", "koi8_r")
"""Sets of letters in which programs wrote Exif without saying so (common practice, no source)."""


def _is_misread(texts: Sequence[str], others: Sequence[str]) -> bool:
    """Return whether texts are the same octets, read in different sets of letters."""
    one, other = _joined(texts, others)
    if one == other or len(one) != len(other) or one.isascii():
        return False
    return not _octets(one).isdisjoint(_octets(other))


def _octets(text: str) -> set[bytes]:
    """Return what a text is in each of the sets that have all its letters."""
    found: set[bytes] = set()
    for codec in SETS:
        with suppress(UnicodeError):
            found.add(text.encode(codec))
    return found


def _joined(one: Sequence[str], other: Sequence[str]) -> tuple[str, str]:
    return _plain("; ".join(one)), _plain("; ".join(other))


def _same_texts(one: list[str], other: list[str]) -> bool:
    a, b = _joined(one, other)
    return (
        a == b
        or _is_misread(one, other)
        or any(test(x, y) for test in (_is_lossy, _is_cut) for x, y in ((a, b), (b, a)))
    )


def _same_names(one: list[str], other: list[str]) -> bool:
    return _same_texts([text.casefold() for text in one], [text.casefold() for text in other])


def _texts(found: Fields, kind: str, key: str) -> list[str]:
    return [part for text in texts_of(found[kind].get(key, "")) for part in texts_of(text.split("\0"))]


def _names(found: Fields, kind: str, key: str) -> list[str]:
    return [name for text in texts_of(found[kind].get(key, "")) for part in text.split(";") if (name := part.strip())]


CAMERA_WORDS = frozenset({"digital", "camera", "dsc", "dcim", "still", "photo", "image", "jpeg"})


def _is_cameras(found: Fields, kind: str, texts: Sequence[str]) -> bool:
    """Return whether a description is what a camera writes into every picture: its own name, and words like it."""
    if kind != "exif":
        return False
    said = {word for text in texts for word in re.findall(r"[^\W_]+", text.casefold())}
    exif = found["exif"]
    own = re.findall(r"[^\W_]+", f"{exif.get('Exif.Image.Make', '')} {exif.get('Exif.Image.Model', '')}".casefold())
    return bool(own) and said <= CAMERA_WORDS | set(own)


def _write_text(key_of: Mapping[str, str]) -> Callable[[Fields, str, list[str]], dict[str, Any]]:
    def write(found: Fields, kind: str, texts: list[str]) -> dict[str, Any]:
        text, key = "; ".join(texts), key_of[kind]
        if kind != "xmp":
            return {key: text}
        before = found[kind].get(key)
        spoken = before if isinstance(before, Mapping) else {}
        # What another language says alike is the same text, and goes with it.
        others = {name: said for name, said in spoken.items() if name != DEFAULT and said != spoken.get(DEFAULT)}
        return {key: {DEFAULT: text, **others}}

    return write


def _write_names(key_of: Mapping[str, str]) -> Callable[[Fields, str, list[str]], dict[str, Any]]:
    def write(_: Fields, kind: str, names: list[str]) -> dict[str, Any]:
        return {key_of[kind]: "; ".join(names) if kind == "exif" else names}

    return write


# Dates

EXIF_TIME = re.compile(r"(\d{4})[:-](\d\d)[:-](\d\d)(?:[ T](\d\d):(\d\d)(?::(\d\d))?)?")
ISO_TIME = re.compile(r"(\d{4})(?:-(\d\d)(?:-(\d\d)(?:T(\d\d):(\d\d)(?::(\d\d)(?:\.\d+)?)?)?)?)?(Z|[+-]\d\d:?\d\d)?$")
IIM_TIME = re.compile(r"(\d\d)(\d\d)(\d\d)(?:\.\d+)?([+-]\d{4})?")
ZONE = re.compile(r"[+-](?:0\d|1[0-4])[0-5]\d")
DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)

PARTS, SECONDS = ((0, 4), (4, 2), (6, 2), (8, 2), (10, 2)), (12, 2)
"""Where year, month, day, hour and minute stand among the digits, and seconds."""

QUARTER, LONGEST_SHIFT = 15, 26 * 60
"""Minutes: zones differ by whole quarters of an hour, and by no more than from -12 to +14 hours (IANA time zones)."""


def _moment(fields: Mapping[str, str]) -> Callable[[Fields, str, str], list[str]]:
    """Return what reads a date with its time: as the digits that are known, and the zone, if it is known."""

    def read(found: Fields, kind: str, key: str) -> list[str]:
        text = next(iter(texts_of(found[kind].get(key, ""))), "")
        if kind == "iptc":
            date, time = re.sub(r"\D", "", text)[:8], next(iter(texts_of(found[kind].get(fields["time"], ""))), "")
            clock = IIM_TIME.match(time)
            digits = date + ("".join(clock.groups()[:3]) if clock else "")
            return [digits, (clock[4] or "") if clock else ""] if len(date) == 8 and _is_in_calendar(digits) else []
        match = (EXIF_TIME if kind == "exif" else ISO_TIME).match(text)
        if match is None:
            return []
        digits = "".join(part for part in match.groups()[:6] if part)
        zone = str(found["exif"].get(fields["offset"], "")).strip() if kind == "exif" else match[7] or ""
        zone = "+0000" if zone == "Z" else zone.replace(":", "")
        return [digits, zone if ZONE.fullmatch(zone) else ""] if _is_in_calendar(digits) else []

    return read


def _is_in_calendar(digits: str) -> bool:
    """Return whether digits can be a year, with a month, a day, an hour, a minute and a second as far as they go."""
    year, *rest = (
        int(digits[at : at + size]) for at, size in ((0, 4), (4, 2), (6, 2), (8, 2), (10, 2), (12, 2)) if digits[at:]
    )
    month, day, hour, minute, second = (*rest, *(1, 1, 0, 0, 0)[len(rest) :])
    if year == 0 or not 1 <= month <= 12 or not 1 <= day <= DAYS[month - 1]:
        return False
    return hour < 24 and minute < 60 and second <= 60


def _same_moment(one: list[str], other: list[str]) -> bool:
    known = min(len(one[0]), len(other[0]))
    if one[0][:known] == other[0][:known]:
        return True
    if known < 12:
        return False
    first, second = _minutes(one[0]), _minutes(other[0])
    if one[1] and other[1]:
        return first - _shift(one[1]) == second - _shift(other[1])
    # A zone that is not given may be the whole difference.
    apart = abs(first - second)
    return apart <= LONGEST_SHIFT and apart % QUARTER == 0 and one[0][12:14] in ("", other[0][12:14])


def _minutes(digits: str) -> int:
    """Return the minutes to a moment from the beginning of the calendar (Gregorian, with months from March on)."""
    year, month, day, hour, minute = (int(digits[at : at + size]) for at, size in PARTS)
    year, month = (year, month - 3) if month > 2 else (year - 1, month + 9)
    days = 365 * year + year // 4 - year // 100 + year // 400 + (153 * month + 2) // 5 + day
    return (days * 24 + hour) * 60 + minute


def _shift(zone: str) -> int:
    """Return the minutes that a zone is ahead."""
    digits = re.sub(r"\D", "", zone).ljust(4, "0")
    return (-1 if zone.startswith("-") else 1) * (int(digits[:2]) * 60 + int(digits[2:4]))


def _write_moment(key_of: Mapping[str, str], time: str) -> Callable[[Fields, str, list[str]], dict[str, Any]]:
    def write(_: Fields, kind: str, moment: list[str]) -> dict[str, Any]:
        digits, zone = moment
        date = "-".join(part for part in (digits[:4], digits[4:6], digits[6:8]) if part)
        clock = ":".join(part for part in (digits[8:10], digits[10:12], digits[12:14]) if part)
        if kind == "iptc":
            whole = len(digits) == 14 and zone
            return {
                key_of[kind]: digits[:8] if len(digits) >= 8 else None,
                time: f"{digits[8:14]}{zone}" if whole else None,
            }
        if kind == "exif":
            return {key_of[kind]: f"{date.replace('-', ':')} {clock or '00:00:00'}"} if len(digits) >= 8 else {}
        return {key_of[kind]: f"{date}T{clock}{f'{zone[:3]}:{zone[3:]}' if zone else ''}" if clock else date}

    return write


DESCRIPTION = {"exif": "Exif.Image.ImageDescription", "xmp": "Xmp.dc.description", "iptc": "Iptc.Application2.Caption"}
CREATOR = {"exif": "Exif.Image.Artist", "xmp": "Xmp.dc.creator", "iptc": "Iptc.Application2.Byline"}
COPYRIGHT = {"exif": NOTICE, "xmp": "Xmp.dc.rights", "iptc": "Iptc.Application2.Copyright"}
TAKEN = {
    "exif": "Exif.Photo.DateTimeOriginal", "xmp": "Xmp.photoshop.DateCreated", "iptc": "Iptc.Application2.DateCreated",
}  # fmt: skip
DIGITISED = {
    "exif": "Exif.Photo.DateTimeDigitized", "xmp": "Xmp.xmp.CreateDate", "iptc": "Iptc.Application2.DigitizationDate",
}  # fmt: skip
TAKEN_PARTS = {"time": "Iptc.Application2.TimeCreated", "offset": "Exif.Photo.OffsetTimeOriginal"}
DIGITISED_PARTS = {"time": "Iptc.Application2.DigitizationTime", "offset": "Exif.Photo.OffsetTimeDigitized"}

THE_AUTHOR, THE_COPYRIGHT = "the author", "the copyright"
MATTERS = (
    _Matter(
        what="what the picture shows", keys=DESCRIPTION, read=_texts, is_same=_same_texts,
        write=_write_text(DESCRIPTION), copy="Xmp.tiff.ImageDescription",
    ),
    _Matter(what=THE_AUTHOR, keys=CREATOR, read=_names, is_same=_same_names, write=_write_names(CREATOR),
            copy="Xmp.tiff.Artist"),
    _Matter(what=THE_COPYRIGHT, keys=COPYRIGHT, read=_texts, is_same=_same_texts, write=_write_text(COPYRIGHT),
            copy="Xmp.tiff.Copyright"),
    _Matter(
        what="when it was taken", keys=TAKEN, read=_moment(TAKEN_PARTS), is_same=_same_moment,
        write=_write_moment(TAKEN, TAKEN_PARTS["time"]), copy="Xmp.exif.DateTimeOriginal",
    ),
    _Matter(
        what="when it was digitised", keys=DIGITISED, read=_moment(DIGITISED_PARTS), is_same=_same_moment,
        write=_write_moment(DIGITISED, DIGITISED_PARTS["time"]), copy="Xmp.exif.DateTimeDigitized",
    ),
)  # fmt: skip
