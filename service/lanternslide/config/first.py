"""The config that a photographer begins with, from a few answers. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from anyascii import anyascii

from lanternslide.records import shown_path, shown_text

__all__ = [
    "DELIVERIES", "NAMELESS", "PROOFS", "STATE", "FirstAnswers", "FirstPlace", "is_reserved", "key_for", "render_first",
    "toml_text",
]  # fmt: skip

STATE = "state"
DELIVERIES = "out"
PROOFS = "proofs"
"""Folders beside the config that the service writes into."""

NAMELESS = "me"
"""What a photographer is called in the config who gives no name, or one without letters."""

LONGEST_KEY = 64

RESERVED = re.compile(r"CON|PRN|AUX|NUL|(?:COM|LPT)[0-9]", re.IGNORECASE)
"""Names that no folder has on Windows (Microsoft, "Naming Files, Paths, and Namespaces")."""

FILL_IN = "# Fill in what you like, and take the # away:\n"

ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}
"""Escapes of a basic string (TOML 1.0.0, "String")."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FirstPlace:
    """A place where pictures will be seen."""

    name: str
    long_edge: int  #: Pixels.


@dataclass(frozen=True, kw_only=True, slots=True)
class FirstAnswers:
    """What a photographer has answered."""

    creator: str  #: The photographer's name; empty if it is to be left out.
    contact: str  #: How the photographer can be reached; empty if it is to be left out.
    drop: str  #: The drop folder as it stands in the config, without ``~``.
    places: tuple[FirstPlace, ...]  #: One at least; what nothing else is said of goes to the first.
    on_share: bool = False  #: Whether the config lies on a share, where no ledger may lie.

    @property
    def key(self) -> str:
        """What the photographer is called in the config."""
        return key_for(self.creator)

    @property
    def proofs(self) -> str:
        """The folder for proof sheets as it stands in the config."""
        return f"{PROOFS}/{self.key}"


def key_for(name: str) -> str:
    """Return what the photographer called *name* is called in the config: the first name, in plain letters."""
    first = next(iter(name.split()), "")
    plain = "".join(re.findall(r"[a-z0-9_-]+", anyascii(first).lower())).lstrip("-")[:LONGEST_KEY]
    return NAMELESS if not plain or is_reserved(plain) else plain


def is_reserved(name: str) -> bool:
    """Return whether Windows lets no folder have this *name*."""
    return RESERVED.fullmatch(name) is not None


def toml_text(text: str) -> str:
    r"""Return *text* as a string of TOML.

    Where that is easier to read, as for ``C:\Drop``, it is a literal string. Halves of characters (surrogates) have no
    place in TOML.
    """
    if set(text) & set('\\"') and "'" not in text and text.isprintable():
        return f"'{text}'"
    return f'"{"".join(map(_escaped, text))}"'


def _escaped(character: str) -> str:
    if character in ESCAPES:
        return ESCAPES[character]
    return character if character.isprintable() else f"\\U{ord(character):08x}"


def render_first(answers: FirstAnswers, reference: Path) -> str:
    """Return the text of the config, with remarks; *reference* is the file that explains every key."""
    parts = (
        f"""\
# What you drop, and where it will be seen.
#
# Change what you like; then `lanternslide check` says whether all is well.
# A line that begins with # is a remark. Folders such as "{STATE}" lie beside this
# file. There is more to choose; all of it is explained in
# {shown_path(reference)}

{_state(answers)}
""",
        _photographer(answers),
        *(_place(place, answers) for place in answers.places),
    )
    return "\n".join(parts)


def _state(answers: FirstAnswers) -> str:
    if answers.on_share:
        return f"""\
# This folder lies on a share. What the service notes down must lie on a disk of
# the machine that it runs on; without the next two lines that is a folder of
# your own there, which `lanternslide check` names.
# [service]
# state = {toml_text("/var/lib/lanternslide")}"""
    return f"""\
[service]
# Here the service notes what it has done. Leave this folder alone, and include
# it in your backups.
state = {toml_text(STATE)}"""


def _photographer(answers: FirstAnswers) -> str:
    return f"""\
[photographers.{answers.key}]
# Drop your finished, full-size pictures here. They are never changed.
drop = {toml_text(answers.drop)}
{_rights(answers)}\
# Where a picture goes if neither its name nor its folder says it.
otherwise = [{toml_text(answers.places[0].name)}]
# Open index.html in this folder to see what was made, day by day.
proofs = {toml_text(answers.proofs)}
"""


def _rights(answers: FirstAnswers) -> str:
    """Return the lines that say whose the pictures are; what was not answered comes last, as a remark."""
    creator = answers.creator or "Your Name"
    lines = (
        (answers.creator, f"creator = {toml_text(creator)}\n"),
        (answers.creator, f"copyright = {toml_text('© {year} ' + creator)}\n"),
        (answers.contact, f"contact = {toml_text(answers.contact or 'you@example.org')}\n"),
    )
    missing = [f"# {line}" for answer, line in lines if not answer]
    return f"""\
# This is written into every picture that does not say it itself: who made it,
# whose it is ({{year}} is the year it was taken in), and how to reach you.
{"".join(line for answer, line in lines if answer)}\
{"".join([FILL_IN, *missing] if missing else [])}"""


def _place(place: FirstPlace, answers: FirstAnswers) -> str:
    return f"""\
# For pictures called like grey-seal@{place.name}.jpg, or dropped into
# {shown_text(answers.drop)}/{place.name}
[destinations.{place.name}]
# They come out here; {{photographer}} becomes {answers.key}.
folder = {toml_text(f"{DELIVERIES}/{{photographer}}/{place.name}")}
# How long their longer edge is, in pixels.
size = {{ long_edge = {place.long_edge} }}
"""
