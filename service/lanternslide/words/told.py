"""What libraries and the system say of an error, cleaned before it gets into a sentence or a log line.

Workers open an original by a path of the inside, and the service writes under temporary names. Libraries quote both.
Nobody can do anything with such a name: what is said around it tells which picture or folder it is about.
"""

from __future__ import annotations

import re

__all__ = ["named", "told", "without_inside"]

DESCRIPTOR = r"(?<![\w/])(?:/proc/(?:self|thread-self|\d+)(?:/task/\d+)?/fd/\d+|/dev/fd/\d+)(?![\w/])"
"""Paths by which a system opens again what is open already (Linux: proc(5))."""

TEMPORARY = r"(?<![\w/\\.-])(?:[^\s'\"/\\]{0,255}[/\\]){0,99}\.[^\s'\"/\\]{1,255}\.part(?![\w.])"
"""A name under which the service writes, with the folders before it; a hidden one, so no owner's.

Names have at most 255 letters; a text that somebody else has written must not take long to look through.
"""

TEMPORARY_IN_QUOTES = r"(?P<quote>['\"])(?:[^'\"\n]{0,4096}[/\\])?\.[^'\"\n/\\]{1,255}\.part(?P=quote)"
"""The same where blanks may be in it."""

INSIDE = re.compile(rf"{TEMPORARY_IN_QUOTES}|(?P<mark>['\"]?)(?:{DESCRIPTOR}|{TEMPORARY})(?P=mark)")
NUMBER = re.compile(r"\[(?:Errno|WinError) -?\d+\] ")

SIGNS = ("/fd/", ".part")
"""Without one of these nothing of the inside is in a text."""

THERE = "\0"
TIDYING = (
    (re.compile(rf"{THERE}: +(?=\S)"), ""),  # before what is said of it
    (re.compile(rf": *{THERE} -> (?:{THERE}|(['\"]).*?\1)"), ""),  # renamed to another
    (re.compile(rf"(?: ->|:) *{THERE}(?=[\s.;,)]|$)"), ""),  # behind what is said of it
    (re.compile(THERE), "the file"),
)
"""What becomes of such a name, by where it stands."""


def without_inside(text: str) -> str:
    """Return *text* without paths of the service's inside."""
    if not any(sign in text for sign in SIGNS):
        return text
    text = INSIDE.sub(THERE, text.replace(THERE, ""))
    for pattern, instead in TIDYING:
        text = pattern.sub(instead, text)
    return text


def told(error: BaseException) -> str:
    """Return in one line what an *error* says: of the system's the reason alone, without its number and file."""
    text = (error.strerror if isinstance(error, OSError) else None) or str(error)
    lines = [line for line in without_inside(NUMBER.sub("", text)).splitlines() if line.strip()]
    return lines[0].strip() if lines else type(error).__name__


def named(error: BaseException) -> str:
    """Return what an *error* says behind the name of its kind, for whoever looks for the cause."""
    kind, text = type(error).__name__, told(error)
    return kind if text == kind else f"{kind}: {text}"
