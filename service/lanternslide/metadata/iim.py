"""IPTC IIM, data set by data set: what is not changed is written as it was read.

Source: IPTC Information Interchange Model, version 4.2: 1.5 (how data sets are coded), 1:90 (the character set),
chapters 5 and 6 (records 1 and 2). Keys are the library's (exiv2), as for Exif.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from lanternslide.metadata.letters import codec_of, declared, read

__all__ = ["Iim", "longest"]

MARK = 0x1C
CHARACTER_SET, UTF_8 = (1, 90), b"\x1b%G"
VERSIONS = {(1, 0): b"\0\4", (2, 0): b"\0\4"}
"""The version of each record, which has to stand in it (1:00 and 2:00)."""

MANDATORY_LENGTH = 2
"""Octets of a number (1:00, 2:00 and others)."""

ENVELOPE = {
    0: "ModelVersion", 5: "Destination", 20: "FileFormat", 22: "FileVersion", 30: "ServiceId", 40: "EnvelopeNumber",
    50: "ProductId", 60: "EnvelopePriority", 70: "DateSent", 80: "TimeSent", 90: "CharacterSet", 100: "UNO",
    120: "ARMId", 122: "ARMVersion",
}  # fmt: skip
APPLICATION = {
    0: "RecordVersion", 3: "ObjectType", 4: "ObjectAttribute", 5: "ObjectName", 7: "EditStatus", 8: "EditorialUpdate",
    10: "Urgency", 12: "Subject", 15: "Category", 20: "SuppCategory", 22: "FixtureId", 25: "Keywords",
    26: "LocationCode", 27: "LocationName", 30: "ReleaseDate", 35: "ReleaseTime", 37: "ExpirationDate",
    38: "ExpirationTime", 40: "SpecialInstructions", 42: "ActionAdvised", 45: "ReferenceService", 47: "ReferenceDate",
    50: "ReferenceNumber", 55: "DateCreated", 60: "TimeCreated", 62: "DigitizationDate", 63: "DigitizationTime",
    65: "Program", 70: "ProgramVersion", 75: "ObjectCycle", 80: "Byline", 85: "BylineTitle", 90: "City",
    92: "SubLocation", 95: "ProvinceState", 100: "CountryCode", 101: "CountryName", 103: "TransmissionReference",
    105: "Headline", 110: "Credit", 115: "Source", 116: "Copyright", 118: "Contact", 120: "Caption", 122: "Writer",
    125: "RasterizedCaption", 130: "ImageType", 131: "ImageOrientation", 135: "Language", 150: "AudioType",
    151: "AudioRate", 152: "AudioResolution", 153: "AudioDuration", 154: "AudioOutcue", 200: "PreviewFormat",
    201: "PreviewVersion", 202: "Preview",
}  # fmt: skip
KEYS = {(1, number): f"Iptc.Envelope.{name}" for number, name in ENVELOPE.items()} | {
    (2, number): f"Iptc.Application2.{name}" for number, name in APPLICATION.items()
}
PLACES = {key: place for place, key in KEYS.items()}

NUMBERS = frozenset({(1, 0), (1, 20), (1, 22), (1, 120), (1, 122), (2, 0), (2, 200), (2, 201)})
DATA = frozenset({(2, 125), (2, 202)})
REPEATED = frozenset({
    (1, 5), (1, 50), (2, 4), (2, 12), (2, 20), (2, 25), (2, 26), (2, 27), (2, 45), (2, 47), (2, 50), (2, 80), (2, 85),
    (2, 118), (2, 122),
})  # fmt: skip
"""Data sets that may be there more than once."""

JOINED = frozenset({(2, 110), (2, 115), (2, 116)})
"""Credit, source and copyright: where programs repeat them, each names somebody."""

LONGEST = {
    (2, 5): 64, (2, 40): 256, (2, 80): 32, (2, 85): 32, (2, 105): 256, (2, 110): 32, (2, 115): 32, (2, 116): 128,
    (2, 118): 128, (2, 120): 2000,
}  # fmt: skip
"""Octets of some texts at most."""

MOST = 20_000
"""Data sets that are read at most (a choice)."""

Place = tuple[int, int]


@dataclass(slots=True)
class Iim:
    """All data sets of a picture, in order: (record, number) and octets."""

    sets: list[tuple[Place, bytes]] = field(default_factory=list)
    fault: str | None = None  #: What is damaged, for a person; what stands around it was read.
    codec: str | None = "utf-8"  #: How texts that are no UTF-8 are read; None where nobody can tell.

    @classmethod
    def of(cls, blocks: Iterable[bytes]) -> Iim:
        """Return what some *blocks* of data sets say."""
        found = cls()
        for block in blocks:
            count, before = len(found.sets), set(found.sets)
            _read(block, found)
            # Two places in a file often hold the same.
            found.sets[count:] = [one for one in found.sets[count:] if one not in before]
        escapes = [data for place, data in found.sets if place == CHARACTER_SET]
        named = next((codec for escape in escapes if (codec := declared(escape))), None)
        texts = [data for place, data in found.sets if _is_text(place)]
        found.codec = codec_of(texts, named)
        return found

    def fields(self) -> dict[str, Any]:
        """Return its fields by key: text, or a list of texts where there are several; without what cannot be read."""
        found: dict[str, list[str]] = {}
        for place, data in self.sets:
            text = self._text(place, data)
            if text is not None:
                found.setdefault(key_of(place), []).append(text)
        return {key: texts if len(texts) > 1 else texts[0] for key, texts in found.items()}

    def unread(self) -> list[str]:
        """Return the keys of texts whose letters nobody can tell."""
        return sorted(
            {key_of(place) for place, data in self.sets if _is_text(place) and read(data, self.codec) is None}
        )

    def outgrown(self) -> dict[str, str]:
        """Return the texts by key that fit into IIM as they are, and do not in UTF-8."""
        found: dict[str, str] = {}
        for place, data in self.sets:
            encoded = self._encoded(place, data)
            if encoded is not None and len(data) <= LONGEST.get(place, len(data)) < len(encoded):
                found.setdefault(key_of(place), encoded.decode())
        return found

    def written(self, keep: Callable[[str], bool], changes: Mapping[str, Any]) -> bytes:
        """Return the data sets that *keep* chooses, with *changes* by key (None takes out), in UTF-8; nothing if none.

        A text whose letters are unknown stays behind, and one that has outgrown its place. Of what may be there once,
        the first is written; several names in one such field stand in it together.
        """
        sets = [
            (place, encoded)
            for place, data in self.sets
            if place not in VERSIONS and place != CHARACTER_SET and place not in DATA
            if key_of(place) not in changes
            and keep(key_of(place))
            and (encoded := self._fitting(place, data)) is not None
        ]
        for key, value in changes.items():
            texts = value if isinstance(value, list) else [] if value is None else [str(value)]
            sets += [(PLACES[key], text.encode()) for text in texts]
        if not sets:
            return b""
        once = {place: data for place, data in reversed(sets) if place not in REPEATED}
        for place in JOINED & once.keys():
            together = b"; ".join(dict.fromkeys(data for other, data in sets if other == place))
            once[place] = together if len(together) <= LONGEST[place] else once[place]
        often = [(place, data) for place, data in sets if place in REPEATED]
        every = sorted([*VERSIONS.items(), (CHARACTER_SET, UTF_8), *once.items(), *often], key=lambda item: item[0])
        return b"".join(_set(place, data) for place, data in every)

    def _text(self, place: Place, data: bytes) -> str | None:
        if place in NUMBERS:
            return str(int.from_bytes(data))
        if place in DATA:
            return ""
        text = read(data, self.codec)
        return None if text is None else text.rstrip("\0")

    def _encoded(self, place: Place, data: bytes) -> bytes | None:
        if not _is_text(place):
            return data
        text = self._text(place, data)
        return None if text is None else text.encode()

    def _fitting(self, place: Place, data: bytes) -> bytes | None:
        encoded = self._encoded(place, data)
        has_outgrown = encoded is not None and len(data) <= LONGEST.get(place, len(data)) < len(encoded)
        return None if has_outgrown else encoded


def longest(key: str) -> int | None:
    """Return how many octets a field may have; None where it does not matter here."""
    return LONGEST.get(PLACES[key])


def key_of(place: Place) -> str:
    """Return the key of a data set; of one that has no name, by its number."""
    record, number = place
    group = {1: "Envelope", 2: "Application2"}.get(record, f"0x{record:04x}")
    return KEYS.get(place, f"Iptc.{group}.0x{number:04x}")


def _is_text(place: Place) -> bool:
    return place in KEYS and place not in NUMBERS and place not in DATA and place != CHARACTER_SET


FILLED = re.compile(rb"\0*\Z")


def _read(block: bytes, found: Iim) -> None:
    at = 0
    while at + 5 <= len(block) and len(found.sets) < MOST:
        if block[at] != MARK:
            if FILLED.match(block, at):
                return
            found.fault = "something else stands between its fields"
            at = block.find(MARK, at)
            if at < 0:
                return
            continue
        place, length, behind = (block[at + 1], block[at + 2]), int.from_bytes(block[at + 3 : at + 5]), at + 5
        if length & 0x8000:  # an extended data set: the length of its length
            width = length & 0x7FFF
            length, behind = int.from_bytes(block[behind : behind + width]), behind + width
        data = block[behind : behind + length]
        if len(data) < length:
            found.fault = "it is cut short"
            return
        # A wrong length makes one field swallow the next ones, with their marks.
        if (_is_text(place) and MARK in data) or (place in VERSIONS and length != MANDATORY_LENGTH):
            found.fault = "its fields run into one another"
            return
        found.sets.append((place, data))
        at = behind + length
    if block[at:].strip(b"\0"):
        found.fault = "something else stands between its fields"


def _set(place: Place, data: bytes) -> bytes:
    length = len(data).to_bytes(2) if len(data) < 0x8000 else b"\x80\x04" + len(data).to_bytes(4)
    return bytes((MARK, *place)) + length + data
