"""Names in texts: whether a text names anybody, and anybody but this photographer.

Which words of a notice name nobody is common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from lanternslide.records import Rights

__all__ = ["ADDRESS", "LONGEST", "mentions_owner", "names_another", "says_anything", "says_somebody"]

LONGEST = 20_000
"""So many letters of a text are looked at; no text of a person's is longer."""

LETTERS = str.maketrans(
    {"ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "æ": "ae", "Æ": "Ae", "œ": "oe", "Œ": "Oe"}
    | dict.fromkeys("™®©℗Ⓒⓒ", " ")
)
"""Letters that have no accent to lose in Unicode, and signs."""

TWO_LETTERS = re.compile(r"aa|ae|oe|ue")
"""How people write å, ä, ö, ø and ü where a keyboard lacks them."""

SCRIPTS_WITH_ACCENTS = ("LATIN", "GREEK", "CYRILLIC")
"""How the names of letters begin that people write with and without accents (Unicode character names)."""

ADDRESS = re.compile(r"\S{1,200}@\S{1,200}$|https?://\S+$|www\.\S+$|[+(]?[0-9][0-9 ()/.-]{5,}$", re.IGNORECASE)
"""An e-mail or a web address, or a number: where somebody can be reached, not who it is."""

ADDRESSES = re.compile(
    r"https?://[^\s,;|<>]+|[^\s,;|<>@]{1,64}@[^\s,;|<>@]{1,200}|www\.[^\s,;|<>]+"
    r"|(?<![\w.-])(?:[\w-]{1,63}\.){1,5}(?-i:[a-z]{2,3}|info|example|photo|photos|photography|studio|gallery|art)"
    r"(?:/[^\s,;|<>]*)?(?![\w.-])|\+[0-9][0-9 ()/.-]{5,}",
    re.IGNORECASE,
)
"""E-mail and web addresses, and numbers of telephones, within a text."""

PHRASES = re.compile(
    r"\ball rights (?:are )?reserved\b|\balle rechte vorbehalten\b|\balle rechten voorbehouden\b"
    r"|\btous (?:les )?droits reserves\b|\btutti i diritti (?:sono )?riservati\b"
    r"|\btodos (?:los derechos|os direitos) reservados\b|\bвсе права защищены\b"
    r"|\b(?:photo|image|picture|photograph|photographed|foto)s? (?:by|von|par|por|di|da|door)\b"
    r"|\bjede nutzung\b|\bnur mit\b|\bnicht ohne\b|\baucune? (?:utilisation|reproduction) sans\b|\bfine art\b"
    r"|\bvg bild[- ]kunst\b(?:,? bonn\b)?|\bbildrecht\b(?:,? wien\b)?|\bown work\b"
    r"|\bmade in\b|\bcourtesy of\b|\bproperty of\b"
    r"|\btaken by\b|\bn/a\b|\(c\)|\bcopyright\b|\bcopr\b|\bфото\b|\bфотограф\b"
    r"|版權所有|版权所有|攝影|摄影|著作権|撮影|写真|無断転載禁止"
)
"""Phrases of a notice that name nobody, without accents."""

SHORTEST = 6
"""Letters of a name that nobody else's address has by chance (a choice)."""

OWN_SITE = re.compile(r"(?:https?://)?(?:www\.)?([\w-]+(?:\.[\w-]+)+)/?", re.IGNORECASE)
"""A site as a whole."""

ROMAN_YEAR = re.compile(r"m{1,3}(?:cm|cd|d?c{0,3})(?:xc|xl|l?x{0,3})(?:ix|iv|v?i{0,3})")


def _folded(words: str) -> frozenset[str]:
    """Return words with two letters for one as one."""
    return frozenset(TWO_LETTERS.sub(lambda two: two[0][0], word) for word in words.split())


NAMELESS = _folded("""
    anonymous artist author autor auteur by c credit date default false foto fotograf fotografo holder image inconnu me
    my myself no none of own owner photo photograph photographe photographer picture self standard the true unbekannt
    unknown user work year yes
""")
"""Words that name nobody, where there are no others."""

FORBIDDING = _folded("""
    autorisation authorisation authorization consent copied copy einwilligung erlaubnis forbidden genehmigung
    honorarpflichtig kopieren law laws license licence licensed licensing nutzung permission permitted prohibited
    protected reproduce reproduced reproduction royalties unauthorised unauthorized untersagt use used verboten
    vervielfaltigung zustimmung
""")
"""Those that say more than whose a picture is, and nobody's name."""

COMPANIONS = (
    NAMELESS
    | FORBIDDING
    | _folded("""
    a agency all an and any are arr at atelier be belongs do for fotografia fotografie fotografin
    fotografien fotos from gmbh holder i images in inc is ist it its limited llc ltd makers may must not notice or
    original oder ohne et sans per photographer's photographers photographic photographie photographs photography
    photographies photos pictures please prior published remains required reserved right rights schriftliche
    schriftlicher so studio studios taken the this to und use vorherige vorheriger with without worldwide written
    january february march april may june july august september october november december
    jan feb mar apr jun jul aug sep sept oct nov dec
    januar februar marz mai juni juli oktober dezember
    janvier fevrier mars avril juin juillet aout septembre octobre novembre decembre
""")
)
"""Words that make no other name of one that stands beside them."""


def says_anything(text: str) -> bool:
    """Return whether a text names anybody, or forbids a use."""
    return bool(_telling(text) or frozenset(_words(text)) & FORBIDDING)


def says_somebody(text: str) -> bool:
    """Return whether a text names anybody: more than the words of any notice, and years."""
    return bool(_telling(text))


def names_another(text: str, own: Rights) -> bool:
    """Return whether a text names anybody but this photographer, by the words of the *own* data.

    One of those has to be there whole, and beside them none but what goes with any name. Case, accents, Unicode form,
    signs and spaces make no difference, nor whether an umlaut is written as two letters. An address stands beside a
    name; alone it is this photographer's where the name is in it, or it is the contact, or at its site.
    """
    if not _telling(text):
        return False
    text = text[:LONGEST]
    prose = ADDRESSES.sub(" ", text)
    if not _telling(prose):
        return not all(_is_own_address(found[0], own) for found in ADDRESSES.finditer(text))
    return not (mentions_owner(prose, own) and not _others(prose, own))


def mentions_owner(text: str, own: Rights) -> bool:
    """Return whether one of the *own* data stands whole in a text."""
    words = _words(text)
    there, joined = frozenset(words), _joined(text)
    return any(frozenset(one) <= there or "".join(one) in (joined, *words) for one in _own(own))


def _others(text: str, own: Rights) -> frozenset[str]:
    """Return the words of a text that are neither the photographer's nor go with any name."""
    ours = [word for one in _own(own) for word in (*one, "".join(one))]
    return frozenset() if _joined(text) in ours else _telling(text) - COMPANIONS - frozenset(ours)


def _joined(text: str) -> str:
    """Return the words of a text that may be a name, without what stands between them."""
    return "".join(word for word in _words(PHRASES.sub(" ", _plain(text))) if word not in COMPANIONS)


@lru_cache(maxsize=64)
def _own(own: Rights) -> tuple[tuple[str, ...], ...]:
    """Return the words of each of the own data that name somebody."""
    texts = [text[:LONGEST] for text in (own.creator, own.copyright, own.contact) if text]
    every = ([word for word in _words(_plain(text)) if word in _telling(text)] for text in texts)
    return tuple(tuple(words) for words in every if words)


def _is_own_address(address: str, own: Rights) -> bool:
    """Return whether an address is the contact, lies at its site, or has the photographer's name in it.

    A site that the contact names with a path, or as the host of a mailbox, is shared with others.
    """
    letters, contact = "".join(_words(address)), (own.contact or "").strip()
    names = ("".join(words) for words in _own(Rights(creator=own.creator, copyright=own.copyright)))
    if letters == "".join(_words(contact)) or any(len(name) >= SHORTEST and name in letters for name in names):
        return True
    site = OWN_SITE.fullmatch(contact)
    return site is not None and _host(address) == site[1].casefold()


def _host(address: str) -> str:
    """Return the host of a web or e-mail address in lower case, without ``www.``."""
    plain = address.strip().casefold().partition("://")[2] or address.strip().casefold()
    return re.split(r"[/?#:]", plain.rpartition("@")[2])[0].removeprefix("www.").rstrip(".")


def _telling(text: str) -> frozenset[str]:
    """Return the words of a text that name somebody; none of a notice that only forbids."""
    words = frozenset(_words(PHRASES.sub(" ", _plain(text[:LONGEST])))) - NAMELESS
    return frozenset() if words & FORBIDDING and words <= COMPANIONS else words


def _plain(text: str) -> str:
    """Return a text without case and accents; marks that are letters of their own in other scripts stay."""
    if text.isascii():
        return text.lower()
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


def _words(text: str) -> list[str]:
    """Return the words of a text without case, accents, signs and numbers, and two letters for one as one."""
    letters = "".join(letter if unicodedata.category(letter)[0] in "LNM" else " " for letter in _plain(text[:LONGEST]))
    words = [TWO_LETTERS.sub(lambda two: two[0][0], word) for word in letters.split()]
    return [word for word in words if not word.isdigit() and not (len(word) > 3 and ROMAN_YEAR.fullmatch(word))]
