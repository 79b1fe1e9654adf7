"""Names in texts: whether a text names anybody, and anybody but this photographer."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from functools import lru_cache

from lanternslide.metadata.whose.notices import COMPANIONS, FORBIDDING, LEGAL, NAMELESS, PHRASES, TRADES
from lanternslide.records import Rights

__all__ = [
    "LONGEST",
    "mentions_owner",
    "names_another",
    "says_anything",
    "says_somebody",
    "says_whose",
    "without_addresses",
]

LONGEST = 20_000
"""So many letters of a text are looked at; no text of a person's is longer."""

LETTERS = str.maketrans(
    {"ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "æ": "ae", "Æ": "Ae", "œ": "oe", "Œ": "Oe"}
    | dict.fromkeys("™®℗\ufe0e\ufe0f", " ")
    | dict.fromkeys("©Ⓒⓒ", "(c)")
)
"""Letters that have no accent to lose in Unicode, and signs, with the selectors of how they are shown (UTS 51)."""

TWO_LETTERS = str.maketrans({
    "ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "Å": "Aa", "Ø": "Oe",
})  # fmt: skip
"""How people write umlauts and the like where a keyboard lacks them."""

SCRIPTS_WITH_ACCENTS = ("LATIN", "GREEK", "CYRILLIC")
"""How the names of letters begin that people write with and without accents (Unicode character names)."""

ADDRESSES = re.compile(
    r"https?://[^\s,;|<>]+|[^\s,;|<>@]{1,64}@[^\s,;|<>@]{1,200}|www\.[^\s,;|<>]+"
    r"|(?<![\w.-])(?:[\w-]{1,63}\.){1,5}(?-i:[a-z]{2,3}|COM|NET|ORG|info|example|photo|photos|photography|studio|gallery|art)"
    r"(?:/[^\s,;|<>]*)?(?![\w.-])|\+[0-9][0-9 ()/.-]{5,}",
    re.IGNORECASE,
)
"""E-mail and web addresses, and numbers of telephones, within a text."""

MOST_WORDS = 100
"""Words of an address that are looked at (a choice)."""

SHORTEST = 6
"""Letters of a name that nobody else's address has by chance (a choice)."""

OWN_SITE = re.compile(r"(?:https?://)?(?:www\.)?([\w-]+(?:\.[\w-]+)+)/?", re.IGNORECASE)
"""A site as a whole."""

ROMAN_YEAR = re.compile(r"m(?:m|cm)(?:xc|xl|l?x{0,3})(?:ix|iv|v?i{0,3})")


def says_anything(text: str) -> bool:
    """Return whether a text names anybody, or forbids a use."""
    return bool(_telling(text) or frozenset(_words(text)) & FORBIDDING)


def says_somebody(text: str) -> bool:
    """Return whether a text names anybody: more than the words of any notice, and years."""
    return bool(_telling(text))


def says_whose(text: str) -> bool:
    """Return whether a text has a word that may be somebody's name: more than what goes with any name."""
    return bool(_telling(text) - LEGAL - {"crop", "do"})


def names_another(text: str, own: Rights) -> bool:
    """Return whether a text names anybody but this photographer, by the words of the *own* data.

    One of those has to be there whole, and beside them none but what goes with any name. Case, accents, Unicode form,
    signs and spaces make no difference, nor whether an umlaut is written as two letters. An address stands beside a
    name; alone it is this photographer's where the name is in it, or it is the contact, or at its site.
    """
    if not _telling(text):
        return False
    text = text[:LONGEST]
    if _letters(text) and _letters(text) == _letters(own.contact or ""):
        return False
    prose = without_addresses(text)
    if not _telling(prose):
        return not all(_is_own_address(found[0], own) for found in ADDRESSES.finditer(text))
    return not any(_mentions(way, own) and not _others(way, own) for way in _ways(prose))


def without_addresses(text: str) -> str:
    """Return a text without the e-mail and web addresses and the telephone numbers in it."""
    return ADDRESSES.sub(" ", text)


def mentions_owner(text: str, own: Rights) -> bool:
    """Return whether the creator, or the copyright's owner, of the *own* data stands whole in a text."""
    return any(_mentions(way, own) for way in _ways(text))


def _mentions(text: str, own: Rights) -> bool:
    words, joined = _words(text), _joined(text)
    there = frozenset(words)
    return any(there.issuperset(one) or (_is_long(one) and "".join(one) in (joined, *words)) for one in _own(own))


def _others(text: str, own: Rights) -> frozenset[str]:
    """Return the words of a text that are neither the photographer's nor go with any name."""
    every = _own(own)
    together = {"".join(one) for one in every if _is_long(one)}
    if _joined(text) in together:
        return frozenset()
    return _telling(text) - COMPANIONS - {word for one in every for word in one} - together


def _joined(text: str) -> str:
    """Return the words of a text that may be a name, without what stands between them."""
    return "".join(word for word in _words(PHRASES.sub(" ", _plain(text))) if word not in COMPANIONS)


def _is_long(words: Sequence[str]) -> bool:
    """Return whether a name without its blanks is nobody else's by chance."""
    name = "".join(words)
    return len(name) >= SHORTEST or not name.isascii()


def _ways(text: str) -> tuple[str, ...]:
    """Return a text as it is, and with two letters for each umlaut."""
    composed = unicodedata.normalize("NFC", text)
    return tuple(dict.fromkeys((composed, composed.translate(TWO_LETTERS))))


@lru_cache(maxsize=64)
def _own(own: Rights) -> tuple[tuple[str, ...], ...]:
    """Return the words of each of the own data that name somebody, in each way of writing them."""
    found: list[tuple[str, ...]] = []
    for text in (own.creator, own.copyright):
        for way in _ways((text or "").replace("{year}", " ")[:LONGEST]):
            telling = _telling(way)
            words = [word for word in _words(PHRASES.sub(" ", _plain(way))) if word in telling]
            names = [word for word in words if word not in COMPANIONS]
            if names or words:
                found.append(tuple(names or words))
    return tuple(dict.fromkeys(found))


def _letters(address: str) -> str:
    """Return the letters and digits of an address, without its scheme."""
    plain = re.sub(r"^\s*(?:https?://)?(?:www\.)?", "", address, flags=re.IGNORECASE)
    return "".join(letter for letter in _plain(plain) if letter.isalnum())


def _is_own_address(address: str, own: Rights) -> bool:
    """Return whether an address is the contact, lies at its site, or has the photographer's name in it.

    A site that the contact names with a path, or as the host of a mailbox, is shared with others.
    """
    letters, contact = _letters(address), (own.contact or "").strip()
    if letters and letters == _letters(contact):
        return True
    words = _words(address)[:MOST_WORDS]
    if any(_is_of(words[at:], "".join(one)) for at in range(len(words)) for one in _own(own)):
        return True
    site = OWN_SITE.fullmatch(contact)
    return site is not None and _host(address) == site[1].casefold()


def _is_of(words: Sequence[str], name: str) -> bool:
    """Return whether *words*, written together, begin with a *name*: alone, or with a trade behind it."""
    together = ""
    for word in words:
        together += word
        if len(together) >= len(name):
            break
    return len(name) >= SHORTEST and together.startswith(name) and together[len(name) :] in TRADES | {""}


def _host(address: str) -> str:
    """Return the host of a web or e-mail address in lower case, without ``www.``."""
    plain = address.strip().casefold().partition("://")[2] or address.strip().casefold()
    return re.split(r"[/?#:]", plain.rpartition("@")[2])[0].removeprefix("www.").rstrip(".")


def _telling(text: str) -> frozenset[str]:
    """Return the words of a text that name somebody; none of a notice that only forbids."""
    plain = _plain(text[:LONGEST])
    words = frozenset(_words(PHRASES.sub(" ", plain))) - NAMELESS
    return frozenset() if words <= LEGAL and frozenset(_words(plain)) & FORBIDDING else words


def _plain(text: str) -> str:
    """Return a text without case and accents; marks that are letters of their own in other scripts stay."""
    if text.isascii():
        return text.lower()
    plain = unicodedata.normalize("NFKD", text.translate(LETTERS))[: 2 * LONGEST].casefold()
    kept: list[str] = []
    base = ""
    for letter in plain:
        if not unicodedata.combining(letter):
            base = letter
        elif base and unicodedata.name(base, "").startswith(SCRIPTS_WITH_ACCENTS):
            continue
        kept.append(letter)
    return unicodedata.normalize("NFC", "".join(kept))


def _words(text: str) -> list[str]:
    """Return the words of a text without case, accents, signs and numbers."""
    letters = "".join(letter if unicodedata.category(letter)[0] in "LM" else " " for letter in _plain(text[:LONGEST]))
    return [word for word in letters.split() if not (len(word) > 3 and ROMAN_YEAR.fullmatch(word))]
