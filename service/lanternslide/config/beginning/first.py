"""The config that a photographer begins with, from a few answers. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from anyascii import anyascii

from lanternslide.records import shown_path, shown_text

__all__ = [
    "DELIVERIES", "LONGEST_KEY", "NAMELESS", "PROOFS", "STATE", "FirstAnswers", "FirstDestination", "is_reserved",
    "key_for", "render_first", "toml_text",
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

FILL_IN = "# Fill in what you like, and delete the # in front:\n"

ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}
"""Escapes of a basic string (TOML 1.0.0, "String")."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FirstDestination:
    """A destination: its name, and how large its pictures are."""

    name: str
    long_edge: int  #: Pixels.


@dataclass(frozen=True, kw_only=True, slots=True)
class FirstAnswers:
    """What a photographer has answered."""

    creator: str  #: The photographer's name; empty if it is to be left out.
    contact: str  #: How the photographer can be reached; empty if it is to be left out.
    drop: str  #: The drop folder as it stands in the config, without ``~``.
    destinations: tuple[FirstDestination, ...]  #: One at least; what nothing else is said of goes to the first.
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
# Where you drop pictures, and where people will see them.
#
# Change what you like, then run `lanternslide check`.
# A line that begins with # is a comment. Folders such as "{STATE}" lie beside
# this file. There is more to choose; this file explains every key:
# {shown_path(reference)}

{_state(answers)}
""",
        _photographer(answers),
        *(_destination(destination, answers) for destination in answers.destinations),
    )
    return "\n".join(parts)


def _state(answers: FirstAnswers) -> str:
    if answers.on_share:
        return f"""\
# This folder lies on a share. The service's notes must lie on a disk of the
# machine that it runs on. Without the next two lines that is a folder of your
# own there; `lanternslide check` names it.
# [service]
# state = {toml_text("/var/lib/lanternslide")}"""
    return f"""\
[service]
# The service keeps its notes here. Leave this folder alone. Back it up while
# the service is stopped.
state = {toml_text(STATE)}"""


def _photographer(answers: FirstAnswers) -> str:
    return f"""\
[photographers.{answers.key}]
# Drop your finished, full-size pictures here. They are never changed.
drop = {toml_text(answers.drop)}
{_rights(answers)}\
# Where a picture goes if neither its name nor its folder says so.
otherwise = [{toml_text(answers.destinations[0].name)}]
# Open index.html in this folder to see each day's pictures.
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
# These go into every picture that names nobody yet: who made it, whose it is
# ({{year}} is the year it was taken in), and how to reach you.
{"".join(line for answer, line in lines if answer)}\
{"".join([FILL_IN, *missing] if missing else [])}"""


def _destination(destination: FirstDestination, answers: FirstAnswers) -> str:
    return f"""\
# For pictures named like grey-seal@{destination.name}.jpg, or dropped into
# {shown_text(answers.drop)}/{destination.name}
[destinations.{destination.name}]
# The web pictures go here; {{photographer}} becomes {answers.key}.
folder = {toml_text(f"{DELIVERIES}/{{photographer}}/{destination.name}")}
# The length of their longer edge, in pixels.
size = {{ long_edge = {destination.long_edge} }}
"""
