"""What a delivery is called: the owner's pattern, in letters that every web server and Windows take. Pure.

Sources: RFC 3986, 2.2 and 2.4 (what means something in an address); Microsoft, "Naming Files, Paths, and Namespaces"
(characters and names that Windows reserves); Unicode Standard Annex 15 (normal form C) and 9 (marks of direction).
"""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Mapping
from pathlib import Path

from anyascii import anyascii

from lanternslide.delivery.naming import MAX_STEM_BYTES, cut

__all__ = ["called", "folder_called", "plain_name", "uses_date"]

FIELD = re.compile(r"\{([a-z]+)\}")
UNTAKEN = frozenset('<>:"/\\|?*#%')
"""What Windows takes in no name, and what an address takes for something else."""

RESERVED = re.compile(r"(?:CON|PRN|AUX|NUL|CONIN\$|CONOUT\$|(?:COM|LPT)[0-9¹²³])(?:\.|$)", re.IGNORECASE)
NAMELESS = "picture"
HALVES = re.compile("[\ud800-\udc7f\udd00-\udfff]")
"""Halves of characters that stand for no byte of a path, either (PEP 383)."""


def called(pattern: str, values: Mapping[str, str], *, slug: bool) -> tuple[str, str]:
    """Return the name and the ending of a delivery.

    Parameters
    ----------
    pattern
        With fields in braces and an ending: ``{stem}-{width}.jpg``.
    values
        Of every field. The stem is cut where the whole would be too long.
    slug
        Whether it is made of a to z, digits and hyphens only.
    """
    body, ending = os.path.splitext(pattern)  # noqa: PTH122 - a plain name
    around = _filled(body, {**values, "stem": ""}, slug=slug)
    room = MAX_STEM_BYTES - len(around.encode("utf-8"))
    stem = cut(_made_plain(values["stem"], slug=slug), max(room, 1))
    return plain_name(_filled(body, {**values, "stem": stem}, slug=slug), slug=slug), ending


def _filled(body: str, values: Mapping[str, str], *, slug: bool) -> str:
    return _made_plain(FIELD.sub(lambda match: values[match[1]], body), slug=slug)


def uses_date(pattern: str) -> bool:
    """Return whether a pattern asks when a picture was taken."""
    return bool({"date", "year"} & set(FIELD.findall(pattern)))


def folder_called(folder: Path, *, slug: bool) -> Path:
    """Return the folders below a destination's that a delivery goes into, each called as everything takes it."""
    # Cutting may end a name with what Windows would take away.
    return Path(*(cut(plain_name(part, slug=slug), MAX_STEM_BYTES).rstrip(" .") for part in folder.parts))


def plain_name(text: str, *, slug: bool = False) -> str:
    """Return a name of *text* that is not hidden, not reserved and not empty."""
    name = _made_plain(text, slug=slug).strip(" .") or NAMELESS
    return f"_{name}" if RESERVED.match(name) and not slug else f"{name}-" if RESERVED.match(name) else name


def _made_plain(text: str, *, slug: bool) -> str:
    """Return *text* without what some system or address does not take; line ends become spaces."""
    text = HALVES.sub("\ufffd", text)
    whole = unicodedata.normalize("NFC", text.encode("utf-8", "surrogateescape").decode("utf-8", "replace"))
    plain = "".join(_plain(letter) for letter in whole)
    return re.sub(r"[^a-z0-9]+", "-", anyascii(plain).lower()).strip("-") if slug else plain


def _plain(letter: str) -> str:
    if letter in UNTAKEN or letter == "\ufffd":
        return "-"
    if letter.isspace() or unicodedata.category(letter) in {"Zl", "Zp"}:
        return " "
    return "" if unicodedata.category(letter) in {"Cc", "Cf", "Cs", "Co", "Cn"} else letter
