"""Whose picture an original says that it is: every name, licence and address in it that speaks of author or owner.

Sources: IPTC Photo Metadata Standard 2025.1 (by-line, credit, source, copyright notice, usage terms, web statement,
licensor); PLUS LDF 2.0.1; Exif 3.0, 4.6.4; XMP specification part 2 (`xmpRights:Marked`: False is public domain);
PNG third edition, 11.3.3.1 (the keywords Author, Copyright, Disclaimer and Warning). Which words of a notice name
nobody is common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import Any

from lanternslide.records import Rights

__all__ = [
    "LICENCES",
    "NAMES",
    "TERMS",
    "Claims",
    "claims_of",
    "names_another",
    "says_anything",
    "says_somebody",
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
        "Xmp.xmpDM.copyright": "copyright", "Xmp.Iptc4xmpExt.Creator": "creator",
        "Xmp.Iptc4xmpExt.Contributor": "contributor",
    },
    "png": {
        "author": "author", "artist": "artist", "creator": "creator", "copyright": "copyright",
        "copyright notice": "copyright", "copyright-notice": "copyright",
    },
}  # fmt: skip
"""Fields that name an author or an owner, and what they are called."""

NAME_FAMILIES = {
    "Xmp.plus.ImageCreator": "creator", "Xmp.plus.CopyrightOwner": "owner", "Xmp.plus.ImageSupplier": "supplier",
    "Xmp.plus.Licensor": "licensor",
}  # fmt: skip

FOREIGN_NAMES = frozenset({
    "artist", "author", "authors", "byline", "copyright", "copyrightholder", "copyrightnotice", "copyrightowner",
    "creator", "credit", "creditline", "licence", "license", "licensor", "owner", "photographer", "rights",
    "rightsholder", "rightsowner",
})  # fmt: skip
"""Names of fields in no known vocabulary that speak of author, owner or licence, in lower case."""

ADDRESSES: Mapping[str, Mapping[str, str]] = {
    "exif": {"Exif.Photo.CameraOwnerName": "owner of the camera"},
    "iptc": {"Iptc.Application2.Contact": "contact"},
    "xmp": {
        "Xmp.xmpRights.WebStatement": "web statement", "Xmp.xmpRights.Certificate": "certificate",
        "Xmp.cc.attributionURL": "attribution", "Xmp.plus.TermsAndConditionsURL": "terms",
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
    r"|dom[ií]nio p[uú]blico|no (?:copy)?rights? reserved|unlicense",
    re.IGNORECASE,
)
"""Words that give a picture to the public, wherever they stand."""

LETTERS = str.maketrans(
    {"ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "æ": "ae", "Æ": "Ae", "œ": "oe", "Œ": "Oe"}
    | dict.fromkeys("™®©℗", " ")
)
"""Letters that have no accent to lose in Unicode, and signs."""

ADDRESS = re.compile(r"\S{1,200}@\S{1,200}$|https?://\S+$|www\.\S+$|[+(]?[0-9][0-9 ()/.-]{5,}$", re.IGNORECASE)
"""An e-mail or a web address, or a number: where somebody can be reached, not who it is."""

PHRASES = re.compile(
    r"\ball rights (?:are )?reserved\b|\balle rechte vorbehalten\b|\balle rechten voorbehouden\b"
    r"|\btous (?:les )?droits reserves\b|\btutti i diritti (?:sono )?riservati\b"
    r"|\btodos (?:los derechos|os direitos) reservados\b"
    r"|\b(?:photo|image|picture|photograph|photographed|foto)s? (?:by|von|par|por|di|da|door)\b"
    r"|\btaken by\b|\bn/a\b|\(c\)|\bcopyright\b|\bcopr\b"
)
"""Phrases of a notice that name nobody, without accents."""

NAMELESS = frozenset({
    "anonymous", "artist", "author", "autor", "auteur", "by", "c", "credit", "date", "default", "foto", "fotograf",
    "fotografo", "image", "inconnu", "me", "my", "myself", "none", "of", "own", "owner", "photo", "photograph",
    "photographe", "photographer", "picture", "self", "the", "unbekannt", "unknown", "user", "work", "year",
})  # fmt: skip
"""Words that name nobody, where there are no others."""

COMPANIONS = NAMELESS | {
    "a", "all", "and", "art", "from", "i", "images", "in", "is", "no", "not", "par", "permission", "photographie",
    "photographs", "photography", "photos", "pictures", "por", "prohibited", "published", "reserved", "rights", "taken",
    "unauthorised", "unauthorized", "use", "von", "without", "written", "fine", "fotografia", "fotografie", "fotos",
    "world", "reproduction", "any",
}  # fmt: skip
"""Words that make no other name of one that stands beside them."""

FORBIDDING = frozenset({"permission", "prohibited", "unauthorised", "unauthorized"})
"""Those that say more than whose a picture is, and nobody's name."""

WHOSE = re.compile(
    r"(?:©|\(c\)|copyright|property of|courtesy of|owned by|credit:?|(?:photo|image)s? by)\s+([^.;\n]{1,80})",
    re.IGNORECASE,
)
"""Where terms and instructions name somebody."""

FOREIGN_FIELD, BETWEEN_NAMES = "Xmp.?.", re.compile(r"[./:]")

SCRIPTS_WITH_ACCENTS = ("LATIN", "GREEK", "CYRILLIC")
"""How the names of letters begin that people write with and without accents (Unicode character names)."""

ROOT_ENDS = re.compile(r"[/\[]")

LONGEST, MOST = 20_000, 50
"""So many letters of a field are looked at, and so many names in it; no field of a person's is longer."""

TOO_LONG = "longer than any name"
"""What stands for the rest of such a field: it may name anybody."""

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
    structures = list(_texts(found, {"xmp": {}}, NAME_FAMILIES))
    names = [*_texts(found, NAMES, {}), *(said for said in structures if not ADDRESS.match(said[1]))]
    names += _in_foreign(found["xmp"])
    terms = list(_texts(found, TERMS, {}))
    names += [(label, whose) for label, text in terms for whose in WHOSE.findall(text) if not FREE.search(whose)]
    ids = [said for said in structures if ADDRESS.match(said[1])]
    others = [f"{label}: {_short(text)}" for label, text in names if names_another(text, own)]
    free = [f"{label}: {_short(text)}" for label, text in _texts(found, LICENCES, {})]
    free += [f"{label}: {_short(text)}" for label, text in names if FREE.search(text)]
    addresses = [*ids, *_texts(found, ADDRESSES, ADDRESS_FAMILIES)]
    free += [f"{label}: {_short(text)}" for label, text in (*addresses, *terms) if FREE.search(text)]
    is_public = str(found["xmp"].get(STATUS, "")).strip().endswith(PUBLIC)
    if is_public or str(found["xmp"].get(MARKED, "")).strip().casefold() == "false":
        free.append("marked as public domain")
    if not any(says_somebody(text) and not names_another(text, own) for _, text in names):
        others += [f"{label}: {_short(text)}" for label, text in addresses if names_another(text, own)]
    return Claims(others=tuple(dict.fromkeys([*others, *free])))


def _in_foreign(xmp: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield what fields of unknown vocabularies say that are called like those of author, owner or licence."""
    for key, value in xmp.items():
        name = BETWEEN_NAMES.split(key)[-1].casefold()
        if key.startswith(FOREIGN_FIELD) and name in FOREIGN_NAMES:
            yield from ((name, text[:LONGEST]) for text in islice(_every_text(value), MOST) if text)


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
    found: Mapping[str, Mapping[str, Any]], fields: Mapping[str, Mapping[str, str]], families: Mapping[str, str]
) -> Iterator[tuple[str, str]]:
    """Yield what is said in some fields: what the field is called, and one text of it."""
    for kind, labels in fields.items():
        for key, value in found.get(kind, {}).items():
            label = labels.get(ROOT_ENDS.split(key, maxsplit=1)[0]) if kind == "xmp" else labels.get(key)
            label = label or next((of for family, of in families.items() if key.startswith(family)), None)
            if label is None:
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


def says_anything(text: str) -> bool:
    """Return whether a text names anybody, or forbids a use."""
    return bool(_telling(text) or _words(text) & FORBIDDING)


def says_somebody(text: str) -> bool:
    """Return whether a text names anybody: more than the words of any notice, and years."""
    return bool(_telling(text))


def _telling(text: str) -> frozenset[str]:
    """Return the words of a text that name somebody; none of a notice that only forbids."""
    words = _words(PHRASES.sub(" ", _plain(text[:LONGEST]))) - NAMELESS
    return frozenset() if words & FORBIDDING and words <= COMPANIONS else words


def names_another(text: str, own: Rights) -> bool:
    """Return whether a text names anybody but this photographer, by the words of the *own* data.

    One of those has to be there whole, and beside them none but what goes with any name.
    """
    words = _telling(text)
    if not words:
        return False
    ours = [found for part in (own.creator, own.copyright, own.contact) if part and (found := _telling(part))]
    every = frozenset().union(*ours)
    return not (any(one <= words for one in ours) and words - COMPANIONS <= every)


def _plain(text: str) -> str:
    """Return a text without case and accents; marks that are letters of their own in other scripts stay."""
    plain = unicodedata.normalize("NFKD", text.translate(LETTERS)).casefold()
    kept: list[str] = []
    base = ""
    for letter in plain:
        if not unicodedata.combining(letter):
            base = letter
        elif unicodedata.name(base, "").startswith(SCRIPTS_WITH_ACCENTS):
            continue
        kept.append(letter)
    return unicodedata.normalize("NFC", "".join(kept))


def _words(text: str) -> frozenset[str]:
    """Return the words of a text without case, accents, signs and numbers."""
    letters = "".join(letter if unicodedata.category(letter)[0] in "LNM" else " " for letter in _plain(text[:LONGEST]))
    return frozenset(word for word in letters.split() if not word.isdigit())


def _short(text: str) -> str:
    one_line = " ".join(text.split())
    if any(unicodedata.category(letter) == "Cc" for letter in one_line):
        return UNREADABLE
    return one_line if len(one_line) <= SHORT else f"{one_line[: SHORT - 1]}…"
