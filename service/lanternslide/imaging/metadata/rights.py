"""The photographer's own rights data: filled in where an original says nothing, or put in place of what it says.

Source: Metadata Working Group, "Guidelines for Handling Image Metadata" 2.0 (2010), section 5: the fields of Exif, IPTC
IIM and XMP that mean the same, read in the order Exif, XMP, IIM; what is written is written to Exif and XMP, and to IIM
where the file has any.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from lanternslide.records import About, Rights

__all__ = ["Fields", "about_of", "agreed", "capture_date"]

Fields = Mapping[str, Mapping[str, Any]]
"""What a file says: for each kind of metadata its fields."""

Changes = dict[str, dict[str, Any]]

DATES = (
    ("exif", "Exif.Photo.DateTimeOriginal"),
    ("xmp", "Xmp.exif.DateTimeOriginal"),
    ("xmp", "Xmp.photoshop.DateCreated"),
    ("iptc", "Iptc.Application2.DateCreated"),
    ("exif", "Exif.Photo.DateTimeDigitized"),
    ("xmp", "Xmp.xmp.CreateDate"),
)
"""Where the date of capture stands (MWG 2.0, 5.4), the best first."""

DAY = re.compile(r"((?!0000)[0-9]{4})[-:]?(0[1-9]|1[0-2])[-:]?(0[1-9]|[12][0-9]|3[01])")
CONTACT = "Xmp.Iptc4xmpCore.CreatorContactInfo"
DEFAULT = "x-default"


def capture_date(found: Fields) -> str | None:
    """Return the day on which a picture was taken (ISO 8601), as far as its metadata says."""
    said = (str(found[kind].get(key, "")) for kind, key in DATES)
    return next((day for text in said if (day := _day(text))), None)


def _day(text: str) -> str | None:
    """Return the day of a date as Exif (2026:05:14), IIM or XMP (2026-05-14) write it; None if it is none."""
    match = DAY.match(text)
    # 0000:00:00 where a clock was not set
    return "-".join(match.groups()) if match else None


def agreed(found: Fields, own: Rights, year: str) -> Changes:
    """Return what to write, for each kind of metadata, so that all of them say who made a picture and whose it is.

    Only what the photographer's *own* data speak of is touched.
    """
    changes: Changes = {kind: {} for kind in found}
    if own.creator is not None:
        _creator(found, changes, own.creator, override=own.override)
    if own.copyright is not None:
        _copyright(found, changes, own.copyright.replace("{year}", year), override=own.override)
    if own.contact is not None:
        _contact(found, changes, own.contact, override=own.override)
    if not found["iptc"]:
        changes["iptc"].clear()
    return changes


def about_of(found: Fields, own: Changes) -> About:
    """Return what metadata say in words, with the photographer's *own* data in place."""
    said = {kind: {**fields, **own[kind]} for kind, fields in found.items()}
    exif, iptc, xmp = said["exif"], said["iptc"], said["xmp"]
    return About(
        title=_first(
            xmp.get("Xmp.dc.title"), iptc.get("Iptc.Application2.ObjectName"), exif.get("Exif.Photo.ImageTitle")
        ),
        description=_first(
            exif.get("Exif.Image.ImageDescription"),
            xmp.get("Xmp.dc.description"),
            iptc.get("Iptc.Application2.Caption"),
        ),
        alt=_first(xmp.get("Xmp.Iptc4xmpCore.AltTextAccessibility")),
        captured=capture_date(found),
        creator=_first(exif.get("Exif.Image.Artist"), xmp.get("Xmp.dc.creator"), iptc.get("Iptc.Application2.Byline")),
        copyright=_first(
            exif.get("Exif.Image.Copyright"), xmp.get("Xmp.dc.rights"), iptc.get("Iptc.Application2.Copyright")
        ),
        usage_terms=_first(xmp.get("Xmp.xmpRights.UsageTerms")),
        web_statement=_first(xmp.get("Xmp.xmpRights.WebStatement")),
    )


def _first(*ways: Any) -> str | None:
    """Return the first that says something; several are joined, and of several languages the default counts."""
    for way in ways:
        values = way.get(DEFAULT, next(iter(way.values()), "")) if isinstance(way, Mapping) else way
        filled = _filled(values) if values else []
        if filled:
            return "; ".join(filled)
    return None


def _creator(found: Fields, changes: Changes, own: str, *, override: bool) -> None:
    artist = [name.strip() for name in str(found["exif"].get("Exif.Image.Artist", "")).split(";")]
    ways = (artist, found["xmp"].get("Xmp.dc.creator", ()), found["iptc"].get("Iptc.Application2.Byline", ()))
    said = next((names for way in ways if (names := _filled(way))), [])
    names = [own] if override or not said else said
    changes["exif"]["Exif.Image.Artist"] = "; ".join(names)
    changes["xmp"]["Xmp.dc.creator"] = names
    changes["iptc"]["Iptc.Application2.Byline"] = names


def _copyright(found: Fields, changes: Changes, own: str, *, override: bool) -> None:
    rights = found["xmp"].get("Xmp.dc.rights", {})
    languages = dict(rights) if isinstance(rights, Mapping) else {DEFAULT: str(rights)}
    notice = str(found["exif"].get("Exif.Image.Copyright", ""))
    ways = ((notice,), (languages.get(DEFAULT, ""),), (found["iptc"].get("Iptc.Application2.Copyright", ""),))
    said = next((filled[0] for way in ways if (filled := _filled(way))), "")
    value = own if override or not said else said
    changes["exif"]["Exif.Image.Copyright"] = value
    changes["xmp"]["Xmp.dc.rights"] = {DEFAULT: value} if override else {**languages, DEFAULT: value}
    changes["iptc"]["Iptc.Application2.Copyright"] = value


def _contact(found: Fields, changes: Changes, own: str, *, override: bool) -> None:
    said = [key for key in found["xmp"] if key.startswith(CONTACT)]
    if (said or found["iptc"].get("Iptc.Application2.Contact")) and not override:
        return
    changes["xmp"] |= {CONTACT: None, f"{CONTACT}/Iptc4xmpCore:{_kind_of_contact(own)}": own}
    changes["iptc"]["Iptc.Application2.Contact"] = [own]


def _kind_of_contact(text: str) -> str:
    """Return the field of the IPTC contact information that *text* belongs into."""
    if re.fullmatch(r"\S+@\S+", text):
        return "CiEmailWork"
    return "CiUrlWork" if re.match(r"https?://\S+$", text) else "CiAdrExtadr"


def _filled(values: Iterable[str] | str) -> list[str]:
    every = [values] if isinstance(values, str) else values
    return [text for value in every if (text := str(value).strip("\0 \t\r\n"))]
