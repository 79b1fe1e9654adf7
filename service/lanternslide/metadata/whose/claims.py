"""Whose picture an original says that it is: every name, licence and address in it that speaks of author or owner.

Sources: IPTC Photo Metadata Standard 2025.1 (by-line, credit, source, copyright notice, usage terms, web statement,
licensor); PLUS LDF 2.0.1; Exif 3.0, 4.6.4; XMP specification part 2 (`xmpRights:Marked`: False is public domain);
PNG third edition, 11.3.3.1 (the keywords Author, Copyright, Disclaimer and Warning).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import Any

from lanternslide.metadata.whose.names import (
    LONGEST,
    mentions_owner,
    names_another,
    says_somebody,
    says_whose,
    without_addresses,
)
from lanternslide.records import Rights

__all__ = [
    "LICENCES",
    "NAMES",
    "TERMS",
    "Claims",
    "claims_of",
    "speaks_of_somebody",
    "texts_of",
]

DEFAULT = "x-default"

NAMES: Mapping[str, Mapping[str, str]] = {
    "exif": {
        "Exif.Image.Artist": "artist", "Exif.Image.Copyright": "copyright", "Exif.Image.XPAuthor": "author",
        "Exif.Photo.Photographer": "photographer", "Exif.Thumbnail.Artist": "artist",
        "Exif.Thumbnail.Copyright": "copyright",
    },
    "iptc": {
        "Iptc.Application2.Byline": "by-line", "Iptc.Application2.Copyright": "copyright",
        "Iptc.Application2.Credit": "credit", "Iptc.Application2.Source": "source",
    },
    "xmp": {
        "Xmp.dc.creator": "creator", "Xmp.dc.rights": "rights", "Xmp.dc.publisher": "publisher",
        "Xmp.dcterms.creator": "creator", "Xmp.dcterms.rights": "rights", "Xmp.dcterms.rightsHolder": "rights holder",
        "Xmp.dcterms.publisher": "publisher", "Xmp.tiff.Artist": "artist", "Xmp.tiff.Copyright": "copyright",
        "Xmp.exifEX.Photographer": "photographer", "Xmp.photoshop.Credit": "credit", "Xmp.photoshop.Source": "source",
        "Xmp.xmpRights.Owner": "owner", "Xmp.cc.attributionName": "attribution", "Xmp.pdf.Author": "author",
        "Xmp.pdf.Copyright": "copyright", "Xmp.dc.contributor": "contributor", "Xmp.xmpDM.artist": "artist",
        "Xmp.xmpDM.copyright": "copyright",
    },
    "png": {
        "author": "author", "artist": "artist", "creator": "creator", "photographer": "photographer",
        "by-line": "by-line", "copyright": "copyright", "copyright notice": "copyright",
        "copyright-notice": "copyright", "copyright holder": "copyright", "rights": "rights", "credit": "credit",
        "authors": "author", "owner": "owner", "rightsholder": "rights holder", "rights holder": "rights holder",
    },
}  # fmt: skip
"""Fields that name an author or an owner, and what they are called."""

NAME_FAMILIES = {
    "Xmp.plus.ImageCreator": "creator", "Xmp.plus.CopyrightOwner": "owner", "Xmp.plus.ImageSupplier": "supplier",
    "Xmp.plus.Licensor": "licensor", "Xmp.Iptc4xmpExt.Creator": "creator",
    "Xmp.Iptc4xmpExt.Contributor": "contributor",
}  # fmt: skip

FOREIGN_NAMES = frozenset({
    "artist", "author", "authors", "byline", "copyright", "copyrightholder", "copyrightholdername", "copyrightnotice",
    "copyrightowner", "copyrightownername", "creator", "creatorname", "credit", "creditline", "licence", "license",
    "licensor", "owner", "ownername", "photographer", "photographername", "rights", "rightsagent", "rightsholder",
    "rightsowner",
})  # fmt: skip
"""Names of fields that speak of author, owner or licence in a vocabulary that has none of them, in lower case."""

ADDRESSES: Mapping[str, Mapping[str, str]] = {
    "exif": {"Exif.Photo.CameraOwnerName": "owner of the camera"},
    "iptc": {"Iptc.Application2.Contact": "contact"},
    "xmp": {
        "Xmp.xmpRights.WebStatement": "web statement", "Xmp.xmpRights.Certificate": "certificate",
        "Xmp.cc.attributionURL": "attribution", "Xmp.plus.TermsAndConditionsURL": "terms",
        "Xmp.aux.OwnerName": "owner of the camera", "Xmp.exifEX.CameraOwnerName": "owner of the camera",
        "Xmp.exifEX.OwnerName": "owner of the camera",
    },
    "png": {},
}  # fmt: skip
"""Fields that say whom to ask: somebody's, where no author is named."""

TERMS: Mapping[str, Mapping[str, str]] = {
    "exif": {},
    "iptc": {"Iptc.Application2.SpecialInstructions": "instructions"},
    "xmp": {
        "Xmp.xmpRights.UsageTerms": "usage terms", "Xmp.plus.TermsAndConditionsText": "terms",
        "Xmp.plus.OtherLicenseInfo": "licence", "Xmp.plus.OtherConstraints": "constraints",
        "Xmp.photoshop.Instructions": "instructions", "Xmp.Iptc4xmpExt.LinkedEncRightsExpr": "rights expression",
        "Xmp.Iptc4xmpExt.EmbdEncRightsExpr": "rights expression", "Xmp.dcterms.accessRights": "access rights",
    },
    "png": {"disclaimer": "disclaimer", "warning": "warning"},
}  # fmt: skip
"""Fields that say how a picture may be used: they may give it to the public, or say whose it is."""

ADDRESS_FAMILIES = {"Xmp.Iptc4xmpCore.CreatorContactInfo": "contact"}

LICENCES: Mapping[str, Mapping[str, str]] = {
    "exif": {},
    "iptc": {},
    "xmp": {
        "Xmp.cc.license": "licence", "Xmp.ccOld.license": "licence", "Xmp.cc.morePermissions": "licence",
        "Xmp.cc.legalcode": "licence", "Xmp.cc.useGuidelines": "licence",
        "Xmp.dcterms.license": "licence",
    },
    "png": {"license": "licence", "licence": "licence"},
}  # fmt: skip
"""Fields that give a picture to the public, or to some of it."""

MARKED = "Xmp.xmpRights.Marked"
STATUS, PUBLIC = "Xmp.plus.CopyrightStatus", "CS-PUB"
"""Where PLUS says that a picture is in the public domain (PLUS LDF 2.0.1)."""

FREE = re.compile(
    r"creative[\s_-]*commons|(?<![a-z])cc[\s_-]*(?:0|zero|by)(?![a-z])|public[\s_-]+domain|gemeinfrei|domaine public"
    r"|dom[ií]nio p[uú]blico|no (?:copy)?rights? reserved|unlicense|copyright[\s-]+free"
    r"|\bno (?:known )?copyright\b"
    r"(?!\s+(?:(?:is|are|will be|being)\s+(?:transferred|granted|assigned|given|sold)|holders?|transfer|infringement))"
    r"|\bnot copyrighted|copyright:?\s+none\b|royalty[\s-]free|\bfree (?:to|for any|for all) use\b|\bfree use\b"
    r"|\bgfdl\b|\bcopyleft\b|\battribution [1-4]\.0\b|may be (?:\w+,? (?:and |or )?){1,3}(?:freely|without permission)",
    re.IGNORECASE,
)
"""Words that give a picture to the public, wherever they stand."""

NOT_FREE = re.compile(
    r"\b(?:no|not|never|without|nicht|kein|keine|ohne|pas|sans|neither|nor)(?:\s+(?:yet|be|been|treat|treated|as|place"
    r"|placed|released|licensed|available|published|in|into|under|to|a|any|the|part|of|un|unter|im))*"
    r"\s+(?:creative[\s_-]*commons|cc[\s_-]*(?:0|zero|by)(?![a-z])|public[\s_-]+domain|(?:royalty|copyright)[\s-]free"
    r"|free (?:to|for any|for all) use|for free use|free use)(?!\?)",
    re.IGNORECASE,
)
"""Where a text says that it does not give the picture to the public."""

NAME_BEGINS = r"(?:(?![+&])[\W\d_]){0,40}(?-i:(?![a-z]))([^\W\d_][^.;,|()\n]{0,80})"
WHOSE = re.compile(
    r"(?:©|\(c\)|\bcopyright(?:ed)?(?!\s+(?:restrictions?|infringement|act|laws?|applies)\b)"
    r"|\bproperty of|\bcourtesy(?: of)?|\b(?:owned|held|licensed|created|taken|made) by|\bcredits?(?:\s+line\b)?"
    r"|\b(?:photo|image|picture|foto|bild)(?:graph(?:y|ed)?|er)?s?(?:\s?:|\s+(?:by|von|par|por|credit|courtesy))"
    r"|\b(?:photographer|author|fotograf(?:in)?|urheber(?:in)?|owner|ownership|bildrechte|rights ?holder)\s?:"
    r"|\b(?:permission|consent)(?: \w+){0,3} (?:of|from|by))(?:\s+(?:©|by|of|belongs to)){0,3}" + NAME_BEGINS,
    re.IGNORECASE,
)
"""Where terms and instructions name somebody: a word with a capital letter behind years and signs."""

BETWEEN_NAMES = re.compile(r"[./:]")

ROOT_ENDS = re.compile(r"[/\[]")

MOST, MOST_LETTERS, MOST_TEXTS = 50, 200_000, 2_000
"""So many names of a field are looked at, and so many letters and texts of a block (a choice)."""

REACHED = re.compile(r"(?:Email|URL|Telephone\d?|(?<!Image)(?<!Transaction)ID|Ci(?:Email|Url|Tel)Work|CiAdrExtadr)$")
"""How the fields of a structure end that say where somebody is reached (PLUS LDF 2.0.1; IPTC 2025.1)."""

OF_OTHER_PICTURES = "Xmp.xmpMM."
"""Where the names of what a picture was made from stand (XMP specification part 2, section 2.2)."""

TOO_LONG = "longer than any name"
"""What stands for the rest of such a field: it may name anybody."""

TOO_MUCH = "more than anybody writes"
UNREADABLE = "something that is no text"
SHORT = 60
"""Letters of a text that is quoted."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Claims:
    """What an original says of its author, owner and licence."""

    others: tuple[str, ...] = ()  #: What somebody else, or the public, is said to own, for a person.

    def __bool__(self) -> bool:
        """Whether somebody else's word is in it."""
        return bool(self.others)


def claims_of(found: Mapping[str, Mapping[str, Any]], own: Rights) -> Claims:
    """Return what an original says that is not of this photographer alone.

    *found* has its fields by kind: "exif", "iptc", "xmp", and "png" with the keywords of text chunks in lower case.
    Names are compared without regard to case, accents, Unicode form, signs and spaces; of a name that is only in part
    the photographer's it is not known whose it is.
    """
    names = [*_texts(found, NAMES, {}), *_texts(found, {"xmp": {}}, NAME_FAMILIES, _names_somebody)]
    names += _in_foreign(found["xmp"])
    addresses = list(_texts(found, ADDRESSES, {}))
    addresses += _texts(found, {"xmp": {}}, NAME_FAMILIES | ADDRESS_FAMILIES, _reaches_somebody)
    terms = list(_texts(found, TERMS, {}))
    licences = [(label, text) for label, text in _texts(found, LICENCES, {}) if says_somebody(text)]
    licences = [said for said in licences if _is_free(said[1]) or names_another(said[1], own)]
    every, is_whole = _within(names, addresses, terms, licences)
    names, addresses, terms, licences = every
    names += [
        (label, whose)
        for label, text in terms
        for whose in WHOSE.findall(without_addresses(text))
        if says_whose(whose) and not _is_free(whose)
    ]

    others = [said for said in names if names_another(said[1], own)]
    free = licences + [said for said in (*names, *addresses, *terms) if _is_free(said[1])]
    if not any(mentions_owner(text, own) and not names_another(text, own) for _, text in names):
        others += [said for said in addresses if names_another(said[1], own)]
    told = [f"{label}: {_short(text)}" for label, text in (*others, *free)]
    is_public = str(found["xmp"].get(STATUS, "")).strip().endswith(PUBLIC)
    if is_public or str(found["xmp"].get(MARKED, "")).strip().casefold() == "false":
        told.append("marked as public domain")
    if not is_whole:
        told.append(TOO_MUCH)
    return Claims(others=tuple(dict.fromkeys(told)))


Said = list[tuple[str, str]]


def _within(*lists: Said) -> tuple[tuple[Said, ...], bool]:
    """Return what is looked at of some lists of texts, and whether that is all of it."""
    letters = texts = 0
    kept: list[Said] = []
    for said in lists:
        kept.append([])
        for label, text in said:
            letters, texts = letters + len(text), texts + 1
            if letters > MOST_LETTERS or texts > MOST_TEXTS:
                return (*kept, *([] for _ in lists[len(kept) :])), False
            kept[-1].append((label, text))
    return tuple(kept), True


def _is_free(text: str) -> bool:
    """Return whether a text gives a picture to the public."""
    return FREE.search(NOT_FREE.sub(" ", text)) is not None


def _names_somebody(key: str) -> bool:
    """Return whether a field of a structure is a name; one that should be a structure and is none may be."""
    name = BETWEEN_NAMES.split(key)[-1]
    return key in NAME_FAMILIES or name.endswith("Name") or name.casefold() in FOREIGN_NAMES


def _reaches_somebody(key: str) -> bool:
    return REACHED.search(key) is not None


def _root(key: str) -> str:
    return ROOT_ENDS.split(key, maxsplit=1)[0]


def _in_foreign(xmp: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield what fields say that are called like those of author, owner or licence, and are none of those known."""
    known = (*NAMES["xmp"], *ADDRESSES["xmp"], *TERMS["xmp"], *LICENCES["xmp"], *NAME_FAMILIES, *ADDRESS_FAMILIES)
    for key, value in xmp.items():
        name = BETWEEN_NAMES.split(key)[-1].casefold()
        if name in FOREIGN_NAMES and _root(key) not in known and not key.startswith(OF_OTHER_PICTURES):
            texts = [text for text in islice(_every_text(value), MOST + 1) if text]
            yield from ((name, text[:LONGEST]) for text in texts[:MOST])
            if len(texts) > MOST or any(len(text) > LONGEST for text in texts):
                yield name, TOO_LONG


def speaks_of_somebody(key: str) -> bool:
    """Return whether a property of XMP may say whose a picture is, or what may be done with it."""
    fields = (NAMES, ADDRESSES, TERMS, LICENCES)
    families = (*NAME_FAMILIES, *ADDRESS_FAMILIES, MARKED, STATUS)
    is_called_so = BETWEEN_NAMES.split(key)[-1].casefold() in FOREIGN_NAMES
    return is_called_so or any(key in labels["xmp"] for labels in fields) or key.startswith(families)


def texts_of(value: Any) -> list[str]:
    """Return the texts of a field, whatever shape it has: of several languages the default one, else the first."""
    if isinstance(value, Mapping):
        value = value.get(DEFAULT, next(iter(value.values()), ""))
    every = value if isinstance(value, (list, tuple)) else [value]
    return [text for item in every if (text := str(item).strip("\0 \t\r\n"))]


def _texts(
    found: Mapping[str, Mapping[str, Any]],
    fields: Mapping[str, Mapping[str, str]],
    families: Mapping[str, str],
    is_meant: Callable[[str], bool] = lambda _: True,
) -> Iterator[tuple[str, str]]:
    """Yield what is said in some fields: what the field is called, and one text of it."""
    for kind, labels in fields.items():
        for key, value in found.get(kind, {}).items():
            label = labels.get(_root(key)) if kind == "xmp" else labels.get(key)
            label = label or next((of for family, of in families.items() if key.startswith(family)), None)
            if label is None or not is_meant(key):
                continue
            for text in _every_text(value):
                parts = dict.fromkeys(re.split(r"[;\0]", text[:LONGEST]))
                yield from ((label, part.strip()) for part in islice(parts, MOST) if part.strip())
                if len(text) > LONGEST or len(parts) > MOST:
                    yield label, TOO_LONG


def _every_text(value: Any) -> Iterator[str]:
    """Yield all texts of a field, in every language."""
    if isinstance(value, Mapping):
        for text in value.values():
            yield from _every_text(text)
    elif isinstance(value, (list, tuple)):
        for text in value:
            yield from _every_text(text)
    else:
        yield str(value).strip("\0 \t\r\n")


def _short(text: str) -> str:
    one_line = " ".join(text.split())
    if any(unicodedata.category(letter) == "Cc" for letter in one_line):
        return UNREADABLE
    return one_line if len(one_line) <= SHORT else f"{one_line[: SHORT - 1]}…"
