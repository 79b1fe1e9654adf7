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
        "Exif.Photo.Photographer": "photographer",
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
        "author": "author", "artist": "artist", "creator": "creator", "copyright": "copyright",
        "copyright notice": "copyright", "copyright-notice": "copyright",
    },
}  # fmt: skip
"""Fields that name an author or an owner, and what they are called."""

NAME_FAMILIES = {
    "Xmp.plus.ImageCreator": "creator", "Xmp.plus.CopyrightOwner": "owner", "Xmp.plus.ImageSupplier": "supplier",
    "Xmp.plus.Licensor": "licensor",
}  # fmt: skip

ADDRESSES: Mapping[str, Mapping[str, str]] = {
    "exif": {},
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
    "iptc": {},
    "xmp": {"Xmp.xmpRights.UsageTerms": "usage terms", "Xmp.plus.TermsAndConditionsText": "terms"},
    "png": {"disclaimer": "disclaimer", "warning": "warning"},
}  # fmt: skip
"""Fields that say how a picture may be used: they name nobody, but may give it to the public."""

ADDRESS_FAMILIES = {"Xmp.Iptc4xmpCore.CreatorContactInfo": "contact"}

LICENCES: Mapping[str, Mapping[str, str]] = {
    "exif": {},
    "iptc": {},
    "xmp": {
        "Xmp.cc.license": "licence", "Xmp.ccOld.license": "licence", "Xmp.cc.morePermissions": "licence",
        "Xmp.dcterms.license": "licence",
    },
    "png": {"license": "licence", "licence": "licence"},
}  # fmt: skip
"""Fields that give a picture to the public, or to some of it."""

MARKED = "Xmp.xmpRights.Marked"
STATUS, PUBLIC = "Xmp.plus.CopyrightStatus", "CS-PUB"
"""Where PLUS says that a picture is in the public domain (PLUS LDF 2.0.1)."""

FREE = re.compile(
    r"creative[\s_-]*commons|\bcc[\s_-]?(?:0|by)\b|public[\s_-]+domain|gemeinfrei|domaine public", re.IGNORECASE
)
"""Words that give a picture to the public, wherever they stand."""

LETTERS = str.maketrans(
    {"ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "æ": "ae", "Æ": "Ae", "œ": "oe", "Œ": "Oe"}
    | dict.fromkeys("™®©℗", " ")
)
"""Letters that have no accent to lose in Unicode, and signs."""

ADDRESS = re.compile(r"\S+@\S+$|https?://\S+$|www\.\S+$|[+(]?[0-9][0-9 ()/.-]{5,}$", re.IGNORECASE)
"""An e-mail or a web address, or a number: where somebody can be reached, not who it is."""

NOBODY = frozenset({
    "a", "all", "alle", "and", "artist", "author", "by", "c", "copr", "copyright", "credit", "da", "date", "default",
    "derechos", "diritti", "droits", "foto", "fotograf", "fotografia", "fotografie", "fotos", "from", "i", "image",
    "images", "in", "inc", "is", "los", "my", "myself", "n", "na", "no", "none", "of", "own", "owner", "par",
    "permission", "photo", "photograph", "photographed", "photographer", "photographie", "photographs", "photography",
    "photos", "picture", "pictures", "por", "prohibited", "published", "r", "rechte", "rechten", "reservados",
    "reserved", "reserves", "rights", "riservati", "self", "taken", "the", "todos", "tous", "tutti", "unauthorised",
    "unauthorized", "unbekannt", "unknown", "use", "user", "van", "von", "voorbehouden", "vorbehalten", "without",
    "work", "world", "year",
})  # fmt: skip
"""Words of a notice that name nobody."""

PARTICLES = frozenset({"da", "na", "van", "von"})
"""Those that are names too, where they stand alone."""

ROOT_ENDS = re.compile(r"[/\[]")

FORBIDDING = frozenset({"permission", "prohibited", "unauthorised", "unauthorized"})
"""Those that say more than whose a picture is."""

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
    ids = [said for said in structures if ADDRESS.match(said[1])]
    others = [f"{label}: {_short(text)}" for label, text in names if names_another(text, own)]
    free = [f"{label}: {_short(text)}" for label, text in _texts(found, LICENCES, {})]
    free += [f"{label}: {_short(text)}" for label, text in names if FREE.search(text)]
    addresses = [*ids, *_texts(found, ADDRESSES, ADDRESS_FAMILIES)]
    free += [f"{label}: {_short(text)}" for label, text in (*addresses, *_texts(found, TERMS, {})) if FREE.search(text)]
    is_public = str(found["xmp"].get(STATUS, "")).strip().endswith(PUBLIC)
    if is_public or str(found["xmp"].get(MARKED, "")).strip().casefold() == "false":
        free.append("marked as public domain")
    if not any(says_somebody(text) and not names_another(text, own) for _, text in names):
        others += [f"{label}: {_short(text)}" for label, text in addresses if names_another(text, own)]
    return Claims(others=tuple(dict.fromkeys([*others, *free])))


def speaks_of_somebody(key: str) -> bool:
    """Return whether a property of XMP may say whose a picture is, or what may be done with it."""
    fields = (NAMES, ADDRESSES, TERMS, LICENCES)
    families = (*NAME_FAMILIES, *ADDRESS_FAMILIES, MARKED, STATUS)
    return any(key in labels["xmp"] for labels in fields) or key.startswith(families)


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
    words = _words(text)
    return bool(_telling(words) or words & FORBIDDING)


def says_somebody(text: str) -> bool:
    """Return whether a text names anybody: more than the words of any notice, and years."""
    return bool(_telling(_words(text)))


def _telling(words: frozenset[str]) -> frozenset[str]:
    """Return the words that name somebody."""
    return words if words and words <= PARTICLES else words - NOBODY


def names_another(text: str, own: Rights) -> bool:
    """Return whether a text names anybody but this photographer, by the words of the *own* data.

    One of those has to be there whole, and nothing beside them.
    """
    words = _telling(_words(text))
    if not words:
        return False
    ours = [found for part in (own.creator, own.copyright, own.contact) if part and (found := _telling(_words(part)))]
    return not (any(one <= words for one in ours) and words <= frozenset().union(*ours))


def _words(text: str) -> frozenset[str]:
    """Return the words of a text without case, accents, signs and numbers."""
    plain = unicodedata.normalize("NFKD", text.translate(LETTERS)).casefold()
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return frozenset(word for word in re.findall(r"[^\W_]+", plain) if not word.isdigit())


def _short(text: str) -> str:
    one_line = " ".join(text.split())
    if any(unicodedata.category(letter) == "Cc" for letter in one_line):
        return UNREADABLE
    return one_line if len(one_line) <= SHORT else f"{one_line[: SHORT - 1]}…"
