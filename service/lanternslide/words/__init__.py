"""Everything the service says about a picture or a config, in one list for a photographer to review.

Four lists are about pictures (`pictures.py`): why an original is *held*, what is *doubtful* about a delivery, what is
good to know about it (a *note*), and what may *pass* by itself. Six are for owners (`owners.py`, `upkeep.py`): what a
*command* has done, what a *check* finds, *installing*, *beginning* with `init`, the *upkeep* of the ledger, and what is
wrong with a *config*. Each entry is a
key (`kinds.py`) and a sentence with named places. A test holds the lists against the code, so that no sentence stays
that nobody can meet.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import PurePath
from types import MappingProxyType

from lanternslide.words.kinds import (
    Beginning,
    Check,
    Command,
    ConfigWord,
    Doubt,
    Held,
    Install,
    Note,
    Passing,
    Upkeep,
    Word,
)
from lanternslide.words.owners import TO_OWNERS
from lanternslide.words.pictures import OF_PICTURES
from lanternslide.words.quantities import counted, readable_bytes, readable_duration, readable_memory
from lanternslide.words.told import named, told, without_inside
from lanternslide.words.upkeep import OF_THE_LEDGER

__all__ = [
    "SENTENCES",
    "Beginning",
    "Check",
    "Command",
    "ConfigWord",
    "Doubt",
    "Held",
    "Install",
    "Note",
    "Passing",
    "Said",
    "Upkeep",
    "Word",
    "counted",
    "is_said",
    "named",
    "readable_bytes",
    "readable_duration",
    "readable_memory",
    "say",
    "told",
    "without_inside",
]

SENTENCES: Mapping[Word, str] = MappingProxyType({**OF_PICTURES, **TO_OWNERS, **OF_THE_LEDGER})
"""Every sentence by its key."""

PLACE = re.compile(r"\{\w+\}")
NOTES = frozenset(note.value for note in Note)


@dataclass(frozen=True, kw_only=True, slots=True)
class Said:
    """A sentence with its places filled."""

    key: str  #: The stable key of the sentence.
    text: str  #: The sentence, ready for a photographer.

    @property
    def is_note(self) -> bool:
        """Whether it asks nothing of the owner."""
        return self.key in NOTES


def say(word: Word, **places: object) -> Said:
    """Return the sentence of *word* with its *places* filled.

    Raises
    ------
    KeyError
        If a place of the sentence is not given.
    """
    return Said(key=word.value, text=SENTENCES[word].format(**{name: _plain(value) for name, value in places.items()}))


@cache
def _pattern(key: str) -> re.Pattern[str]:
    """Return how the sentence of a *key* looks, whatever fills its places."""
    parts = PLACE.split(next(text for word, text in SENTENCES.items() if word.value == key))
    return re.compile(".*".join(map(re.escape, parts)), re.DOTALL)


def is_said(key: str, text: str) -> bool:
    """Return whether a *text* is the sentence of a *key*, whatever fills its places."""
    return _pattern(key).fullmatch(text) is not None


def _plain(value: object) -> object:
    r"""Return what fills a place, safe to print: bytes that are no text become ``\xNN``, what is unseen an escape.

    What a library says stands there without paths of the inside.
    """
    if isinstance(value, BaseException):
        value = told(value)
    if not isinstance(value, str | PurePath):
        return value
    text = without_inside(str(value)).encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)
