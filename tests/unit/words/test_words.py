"""The list of sentences against the code that says them."""

from __future__ import annotations

import ast
import string
from collections.abc import Iterator
from pathlib import Path

import pytest

import lanternslide
from lanternslide.words import (
    SENTENCES,
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
    say,
)

SERVICE = Path(lanternslide.__file__).parent
KINDS: dict[str, type[Word]] = {
    "Held": Held,
    "Doubt": Doubt,
    "Note": Note,
    "Passing": Passing,
    "Command": Command,
    "Check": Check,
    "ConfigWord": ConfigWord,
    "Install": Install,
    "Beginning": Beginning,
    "Upkeep": Upkeep,
}
EVERY = [word for kind in KINDS.values() for word in kind]
SPEAKERS = ("say", "of", "OriginalHeldError", "PassingFaultError", "InstallError")
JARGON = ("exception", "null", "traceback", "errno", "stack", "boolean")


def places_of(word: Word) -> set[str]:
    """Return the places that a sentence has."""
    return {name for _, name, _, _ in string.Formatter().parse(SENTENCES[word]) if name}


def word_in(node: ast.expr) -> Word | None:
    """Return the word that an expression such as ``Held.EMPTY`` names."""
    if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in KINDS:
        return getattr(KINDS[node.value.id], node.attr, None)
    return None


def trees() -> Iterator[ast.Module]:
    """Yield the code of the service, without the list itself."""
    for path in SERVICE.rglob("*.py"):
        if path.parent.name != "words":
            yield ast.parse(path.read_text("utf-8"))


def spoken() -> Iterator[tuple[Word, set[str]]]:
    """Yield every word that the code says, with the places that it fills."""
    for tree in trees():
        for node in ast.walk(tree):
            if not isinstance(node, ast.Call):
                continue
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if name in SPEAKERS:
                for word in map(word_in, node.args):
                    if word is None:
                        continue
                    yield word, {keyword.arg for keyword in node.keywords if keyword.arg}


def test_every_word_has_a_sentence() -> None:
    """No key stands without its sentence, and no sentence without its key."""
    assert set(SENTENCES) == set(EVERY)


def test_what_is_said_fills_the_sentence() -> None:
    """Wherever the code says something, it fills exactly the places that the sentence has."""
    found = list(spoken())

    assert len(found) >= 30
    assert [(word, places, places_of(word)) for word, places in found if places != places_of(word)] == []


def test_every_sentence_is_earned() -> None:
    """Each sentence is said somewhere."""
    named = {
        word for tree in trees() for node in ast.walk(tree) if isinstance(node, ast.expr) and (word := word_in(node))
    }

    assert set(EVERY) - named == set()


@pytest.mark.parametrize("word", EVERY)
def test_sentences_are_for_people(word: Word) -> None:
    """Sentences begin with a capital or a place, end with a full stop, and use no programmer's words."""
    sentence = SENTENCES[word]

    assert sentence[0].isupper() or sentence[0] in "{“"
    assert sentence.rstrip("”").endswith((".", "}"))
    assert [term for term in JARGON if term in sentence.casefold()] == []


@pytest.mark.parametrize("word", list(Held))
def test_what_is_held_says_what_to_do(word: Held) -> None:
    """A reason is followed by what its owner can do."""
    assert SENTENCES[word].count(". ") >= 1


def test_a_missing_place_is_an_error() -> None:
    """A sentence is never said with a hole in it."""
    with pytest.raises(KeyError):
        say(Held.CUT_SHORT)
