"""Telling text from data: pictures and the like that programs put into text fields."""

from __future__ import annotations

import re

__all__ = ["is_data", "is_path"]

MOST = 10_000
"""Characters of a value that need not look like text (a choice; the standards' longest codes have some hundred)."""

PICTURE = re.compile(
    r"(?<![A-Za-z0-9+/])(?:/9j/|iVBORw0KGgo|R0lGOD|UklGR|SUkqA|TU0AK|AAAA..Z0eX)[A-Za-z0-9+/\s]{64}"
    r"|(?<![0-9A-Fa-f])(?i:FFD8FF|89504E470D0A1A0A|49492A00|4D4D002A)[0-9A-Fa-f\s]{64}"
    r"|(?i:data:(?:image|video|application)/)"
)
"""How the first bytes of JPEG, PNG, GIF, WebP, TIFF and HEIF look in base64 (RFC 4648) and in hexadecimal, and how an
address begins that holds a file (RFC 2397)."""

CODE = re.compile(r"[A-Za-z0-9+/=_\-\s]*")
LEAST_WORD = 40
"""Mean length of what stands between blanks in base64, whose lines have 64 or 76 (RFC 2045, RFC 7468), not in text."""


def is_data(text: str) -> bool:
    """Return whether *text* is none: it holds a picture, or is too long for what it looks like."""
    if PICTURE.search(text):
        return True
    return len(text) > MOST and CODE.fullmatch(text) is not None and len(text) > LEAST_WORD * len(text.split())


PATH = re.compile(
    r"\s*(?:file:|/(?:home|Users|Volumes|mnt|media|tmp|root)/|~/|[A-Za-z]:[\\/]|\\\\[^\\]+\\)", re.IGNORECASE
)
"""How an address or a path of a computer's own file begins (RFC 8089; common practice)."""


def is_path(text: str) -> bool:
    """Return whether a text says where a file lies on somebody's computer."""
    return PATH.match(text) is not None
