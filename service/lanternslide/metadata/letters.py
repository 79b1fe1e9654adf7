"""Which letters bytes of text stand for, where they say so and where they do not.

What is not declared is UTF-8 if it can be that, else what reads like writing in Windows-1252 or in MacRoman. Where
neither does, or both do and differ, nobody can tell, and that is the answer (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterable

__all__ = ["codec_of", "declared", "read", "undeclared"]

UTF_8 = re.compile(rb"\x1b%(?:G|/[GHI])")
"""How IIM declares UTF-8 (IPTC IIM 4.2, 1:90; ISO/IEC 2022; ISO-IR 190 to 196)."""

SETS = {
    b"A": "cp1252", b"B": "iso8859-2", b"C": "iso8859-3", b"D": "iso8859-4", b"F": "iso8859-7", b"G": "iso8859-6",
    b"H": "iso8859-8", b"L": "iso8859-5", b"M": "iso8859-9", b"T": "iso8859-11", b"V": "iso8859-10",
    b"Y": "iso8859-13", b"_": "iso8859-14", b"b": "iso8859-15", b"f": "iso8859-16",
}  # fmt: skip
"""Sets of 96 letters by the last byte of how they are designated (ISO-IR register; from memory).

What says that it is ISO 8859-1 is read as Windows-1252 (as by the WHATWG Encoding Standard, 4.2): the same letters, and
quotation marks where the former has nothing to print.
"""

DESIGNATES = re.compile(rb"\x1b[-./]([A-Z_a-z])")
JAPANESE = re.compile(rb"\x1b(?:\$[@B]|\([BJ])")
"""How text itself switches to Japanese and back (RFC 1468)."""

JAPANESE_CODEC = "iso2022_jp"

SINGLE = ("cp1252", "mac_roman")
"""What is read where nothing is declared."""

APOSTROPHE = re.compile(
    r"(?:\w’(?:s|t|d|m|ll|re|ve)|(?:\b\w|qu|dell|all|nell|sull|dall|[Oo])’\w)(?!\w’)", re.IGNORECASE
)
"""Where a typographer's apostrophe stands between letters: contractions and genitives, elisions, Irish names."""

QUOTES, DASHES = "‘’“”‚„‹›«»", "–—"
SIGNS = frozenset("©®™°€£¥§½¼¾×±²³ªº…•·") | frozenset(QUOTES) | frozenset(DASHES)
OPENING = {"¡": "!", "¿": "?"}
"""Signs that need another one behind them."""

RARE = frozenset("ÿŸﬁﬂıªºµ")
"""Letters of the two sets that hardly stand in any word."""

ALONE = frozenset("àáéèêíóúäöüåæø")
"""Letters that are words."""

WORD = re.compile(r"[^\W\d_]+")
LONGEST_RUN = 2
"""Letters beyond ASCII that follow one another in a word of a Latin alphabet, at most (a choice)."""


def declared(escape: bytes) -> str | None:
    """Return the codec that a declaration (IIM 1:90) names; None if it names none that is known."""
    if UTF_8.search(escape):
        return "utf-8"
    if found := DESIGNATES.search(escape):
        return SETS.get(found[1])
    return JAPANESE_CODEC if JAPANESE.search(escape) else None


LONGEST_LOOK = 20_000
"""Octets of a text that are looked at (a choice)."""


def undeclared(texts: Iterable[bytes]) -> str | None:
    """Return the codec that reads all *texts* of a block, in which none is declared; None if nobody can tell."""
    odd = [text for text in texts if not text.isascii()]
    if all(_reads(text, "utf-8") is not None for text in odd):
        return "utf-8"
    odd = [text[:LONGEST_LOOK] for text in odd]
    likely = [codec for codec in SINGLE if all(_is_writing(_reads(text, codec)) for text in odd)]
    if len(likely) > 1 and any(_reads(text, likely[0]) != _reads(text, likely[1]) for text in odd):
        # Where a quotation mark or a dash stands as one does, a letter of MacRoman would stand there by chance.
        return SINGLE[0] if all(_has_marks_in_place(text.decode(SINGLE[0])) for text in odd) else None
    return likely[0] if likely else None


def codec_of(texts: Iterable[bytes], named: str | None = None) -> str | None:
    """Return the codec for what of a block is no UTF-8: the one that is *named*, if it can be, or `undeclared`."""
    every = list(texts)
    if named == JAPANESE_CODEC or any(JAPANESE.search(text) for text in every):
        return JAPANESE_CODEC if all(_reads(text, JAPANESE_CODEC) is not None for text in every) else None
    others = [text for text in every if _reads(text, "utf-8") is None]
    if named and all(_reads(text, named) is not None for text in others):
        return named
    return undeclared(others or every)


def read(text: bytes, codec: str | None) -> str | None:
    """Return a text: UTF-8 whatever is declared, if it can be that, else by the *codec* of its block; None: unknown.

    What is in another set is UTF-8 only by a rare chance, and programs mix both in one block.
    """
    if JAPANESE.search(text):
        return _reads(text, JAPANESE_CODEC)
    found = _reads(text, "utf-8")
    return found if found is not None or codec is None else _reads(text, codec)


def _reads(text: bytes, codec: str) -> str | None:
    try:
        return text.decode(codec)
    except UnicodeError:
        return None


def _is_writing(text: str | None) -> bool:
    """Return whether a text reads like writing in a Latin alphabet."""
    if text is None:
        return False
    words = (found[0] for found in WORD.finditer(text))
    apostrophes = {at for found in APOSTROPHE.finditer(text) for at in range(found.start(), found.end())}
    return all(word.isascii() or _is_word(word) for word in words) and all(
        letter.isascii() or letter.isalpha() or letter.isspace() or _stands_well(text, at, at in apostrophes)
        for at, letter in enumerate(text)
    )


def _is_word(word: str) -> bool:
    if len(word) == 1:
        return word in ALONE
    run = max(map(len, re.findall(r"[^\x00-\x7f]+", word)))
    has_case = word.islower() or word.isupper() or (word[0].isupper() and word[1:].islower())
    return has_case and run <= LONGEST_RUN and RARE.isdisjoint(word)


def _stands_well(text: str, at: int, is_apostrophe: bool) -> bool:  # noqa: FBT001
    """Return whether a sign stands where such a sign does."""
    sign, before, after = text[at], text[at - 1 : at], text[at + 1 : at + 2]
    if sign in OPENING:
        return OPENING[sign] in text[at:]
    if sign not in SIGNS:
        return False
    if before.isalpha() and after.isalpha():
        return (sign == "’" and is_apostrophe) or (sign == "·" and (before + after).lower() == "ll")
    # "©imon" was written in the letters of central Europe.
    return not (after.isalpha() and (sign in "…•·" or (sign not in QUOTES + DASHES and after.islower())))


def _has_marks_in_place(text: str) -> bool:
    marks = [letter for letter in text if not letter.isascii()]
    return bool(marks) and all(letter in QUOTES or letter in DASHES or letter in "©®™€°" for letter in marks)
