"""The photographer's own rights data: filled in where an original says nothing, or put in place of what it says.

Source: Metadata Working Group, "Guidelines for Handling Image Metadata" 2.0 (2010), section 5: the fields of Exif, IPTC
IIM and XMP that mean the same, read in the order Exif, XMP, IIM; what is written is written to Exif and XMP, and to IIM
where the file has any.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from lanternslide.metadata.whose.claims import texts_of
from lanternslide.metadata.whose.names import names_another, says_anything, says_somebody
from lanternslide.records import About, Rights

__all__ = ["AUTHORS_IN_PNG", "CREATORS", "NOTICES_IN_PNG", "Changes", "Fields", "about_of", "agreed", "capture_date"]

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

CREATORS = (
    ("exif", "Exif.Image.Artist"),
    ("xmp", "Xmp.dc.creator"),
    ("iptc", "Iptc.Application2.Byline"),
    ("exif", "Exif.Photo.Photographer"),
    ("xmp", "Xmp.tiff.Artist"),
    ("exif", "Exif.Image.XPAuthor"),
)
"""Where the author stands (MWG 2.0, 5.6); the last three are further fields that mean the same, in the order of a
choice."""

NOTICE = "Exif.Image.Copyright"
COPYRIGHTS = (
    ("exif", NOTICE),
    ("xmp", "Xmp.dc.rights"),
    ("iptc", "Iptc.Application2.Copyright"),
    ("xmp", "Xmp.tiff.Copyright"),
)
"""Where the copyright stands (MWG 2.0, 5.7), and a further field that means the same."""

AUTHORS_IN_PNG = ("author", "artist", "creator", "photographer", "by-line")
NOTICES_IN_PNG = ("copyright", "copyright notice", "copyright-notice", "copyright holder", "rights")
"""Keywords of text chunks that say who made a picture and whose it is (PNG third edition, 11.3.3.1, and as programs
write them)."""

OTHER_AUTHORS = (*CREATORS[3:], ("xmp", "Xmp.exifEX.Photographer"), ("xmp", "Xmp.plus.ImageCreator"))
OTHER_OWNERS = (*COPYRIGHTS[3:], ("xmp", "Xmp.xmpRights.Owner"), ("xmp", "Xmp.plus.CopyrightOwner"))
"""What else would contradict the photographer's own data (XMP part 2; PLUS LDF 2.0.1)."""

REPLACED: Mapping[str, frozenset[str]] = {
    "iptc": frozenset({
        "Iptc.Application2.Credit", "Iptc.Application2.Source", "Iptc.Application2.Contact",
        "Iptc.Application2.BylineTitle", "Iptc.Application2.SpecialInstructions",
    }),
    "xmp": frozenset({
        "Xmp.photoshop.Credit", "Xmp.photoshop.Source", "Xmp.dc.publisher", "Xmp.dcterms.publisher",
        "Xmp.dc.contributor", "Xmp.xmpDM.artist", "Xmp.xmpDM.copyright",
        "Xmp.dcterms.creator", "Xmp.dcterms.rights", "Xmp.dcterms.rightsHolder", "Xmp.dcterms.license",
        "Xmp.pdf.Author", "Xmp.pdf.Copyright", "Xmp.dcterms.accessRights", "Xmp.photoshop.AuthorsPosition",
        "Xmp.photoshop.Instructions", "Xmp.Iptc4xmpExt.LinkedEncRightsExpr", "Xmp.Iptc4xmpExt.EmbdEncRightsExpr",
        "Xmp.Iptc4xmpExt.RegistryId", "Xmp.Iptc4xmpExt.Creator", "Xmp.Iptc4xmpExt.Contributor",
    }),
}  # fmt: skip
REPLACED_FAMILIES = (
    "Xmp.xmpRights.", "Xmp.cc.", "Xmp.ccOld.", "Xmp.plus.", "Xmp.tdm.", "Xmp.Iptc4xmpCore.CreatorContactInfo",
)  # fmt: skip
"""What else of somebody's rights goes where `override_rights` puts the photographer's own in their place."""

STRUCTURE = re.compile(r"[\[/]")
"""Where the fields of a structure begin in a key."""

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


def agreed(
    found: Fields, own: Rights, year: str, *, is_anothers: bool = False, replaces: bool = False,
    texts: Mapping[str, Sequence[str]] | None = None,
) -> Changes:  # fmt: skip
    """Return what to write, for each kind of metadata, so that all of them say who made a picture and whose it is.

    Only what the photographer's *own* data speak of is touched. Where the picture *is another's*, or that is not known,
    what it says of somebody else is brought together, author and notice both, and nothing is added. What it *replaces*
    goes as a whole. *texts* are those of a PNG, by keyword: they travel as the fields that mean the same.
    """
    changes: Changes = {kind: {} for kind in found}
    if is_anothers:
        _bring_together(found, changes, own, texts or {})
    else:
        if own.creator is not None:
            _creator(found, changes, own.creator, override=own.override)
        if own.copyright is not None:
            _copyright(found, changes, own.copyright.replace("{year}", year), override=own.override)
        if own.contact is not None:
            _contact(found, changes, own.contact, override=own.override)
        if own.override and replaces:
            _replace_all(found, changes, own)
    if not found["iptc"]:
        changes["iptc"].clear()
    return changes


def _bring_together(
    found: Fields, changes: Changes, own: Rights, texts: Mapping[str, Sequence[str]]
) -> None:  # fmt: skip
    """Have all places say the first name, and notice, of somebody else; where none is, they stay as they are."""

    def of_another(places: Sequence[tuple[str, str]], keywords: Iterable[str]) -> list[str]:
        ways = [[part for text in texts_of(found[kind].get(key, "")) for part in _parts(text)] for kind, key in places]
        ways += ([part for text in texts.get(keyword, ()) for part in _parts(text)] for keyword in keywords)
        return next((said for said in ways if any(names_another(text, own) for text in said)), [])

    if names := of_another(CREATORS, AUTHORS_IN_PNG):
        _write_names(changes, [name for text in names for part in text.split(";") if (name := part.strip())])
    if notice := of_another(COPYRIGHTS, NOTICES_IN_PNG):
        _write_notice(found, changes, "; ".join(notice), is_new=_parts(found["exif"].get(NOTICE, "")) != notice)
        spoken: dict[str, str] = changes["xmp"]["Xmp.dc.rights"]
        ours = [key for key, text in spoken.items() if says_somebody(text) and not names_another(text, own)]
        for key in ours:  # in another language
            del spoken[key]


def _replace_all(found: Fields, changes: Changes, own: Rights) -> None:
    """Take out whatever else speaks of somebody's rights, where the photographer's own data replace all of it."""
    if own.creator is None:
        _instead(found, changes, (*CREATORS, *OTHER_AUTHORS))
    if own.copyright is None:
        _instead(found, changes, (*COPYRIGHTS, *OTHER_OWNERS))
    for kind in changes:
        for key in found[kind]:
            root = STRUCTURE.split(key, maxsplit=1)[0]
            is_meant = root in REPLACED.get(kind, ()) or root.startswith(REPLACED_FAMILIES)
            if is_meant and not any(written.startswith(root) for written in changes[kind]):
                changes[kind][root] = None


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
            _parts(exif.get(NOTICE, "")), xmp.get("Xmp.dc.rights"), iptc.get("Iptc.Application2.Copyright")
        ),
        usage_terms=_first(xmp.get("Xmp.xmpRights.UsageTerms")),
        web_statement=_first(xmp.get("Xmp.xmpRights.WebStatement")),
    )


def _first(*ways: Any) -> str | None:
    """Return the first that says something; several texts are joined."""
    return next(("; ".join(texts) for way in ways if way is not None and (texts := texts_of(way))), None)


def _said(found: Fields, places: Sequence[tuple[str, str]]) -> list[str]:
    """Return what the first of the *places* says that is more than the words of any notice."""
    ways = (texts_of(found[kind].get(key, "")) for kind, key in places)
    return next((texts for texts in ways if any(map(says_anything, texts))), [])


def _instead(found: Fields, changes: Changes, places: Iterable[tuple[str, str]]) -> None:
    """Take out what else names an author or owner, where the photographer's own data replace that."""
    for kind, key in places:
        if key in found[kind]:
            changes[kind][key] = None


def _creator(found: Fields, changes: Changes, own: str, *, override: bool) -> None:
    names = [own]
    if override:
        _instead(found, changes, OTHER_AUTHORS)
    else:
        said = _said(found, CREATORS)
        names = [name for text in said for part in text.split(";") if (name := part.strip())] or names
    _write_names(changes, names)


def _write_names(changes: Changes, names: list[str]) -> None:
    changes["exif"]["Exif.Image.Artist"] = "; ".join(names)
    changes["xmp"]["Xmp.dc.creator"] = names
    changes["iptc"]["Iptc.Application2.Byline"] = names


def _copyright(found: Fields, changes: Changes, own: str, *, override: bool) -> None:
    notice = [part for part in _parts(found["exif"].get(NOTICE, "")) if says_anything(part)]
    if override:
        _instead(found, changes, OTHER_OWNERS)
        changes["exif"][NOTICE] = own
        changes["xmp"]["Xmp.dc.rights"] = {DEFAULT: own}
        changes["iptc"]["Iptc.Application2.Copyright"] = own
    else:
        value = "; ".join(notice or _said(found, COPYRIGHTS)) or own
        _write_notice(found, changes, value, is_new=not notice)


def _write_notice(found: Fields, changes: Changes, value: str, *, is_new: bool) -> None:
    """Have all places say a notice; other languages of it stay, and the two halves of Exif's if it *is* not *new*."""
    rights = found["xmp"].get("Xmp.dc.rights")
    languages = dict(rights) if isinstance(rights, Mapping) else {}
    if is_new:
        changes["exif"][NOTICE] = value
    others = {key: text for key, text in languages.items() if key != DEFAULT}
    changes["xmp"]["Xmp.dc.rights"] = {DEFAULT: value, **others}
    changes["iptc"]["Iptc.Application2.Copyright"] = value


def _parts(notice: Any) -> list[str]:
    """Return the photographer's and the editor's part of an Exif copyright (Exif 3.0, 4.6.4)."""
    return [part for text in texts_of(notice) for part in texts_of(text.split("\0"))]


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
    if re.fullmatch(r"[+(]?[0-9][0-9 ()/.-]{5,}", text):
        return "CiTelWork"
    return "CiUrlWork" if re.match(r"(?:https?://|www\.)\S+$", text) else "CiAdrExtadr"
