"""Which letters bytes stand for: words of several languages in the two old sets, and what nobody can tell."""

from __future__ import annotations

import pytest

from lanternslide.metadata.letters import declared, undeclared

WORDS = (
    "Müller", "café au lait", "Dvorák", "Ida’s seal", "don’t", "“hello” she said", "rock – solid", "Ångström", "Ønsker",
    "naïve", "Señor Núñez", "L’été à Nîmes", "Straße", "£5", "25 °C", "ÉTÉ", "DÜSSELDORF", "façade", "Grüße aus Köln",
    "O’Neill", "São João", "Zürich, Schweiz", "© Ida Marrow", "¿Qué?", "e così…", "plain",
)  # fmt: skip


@pytest.mark.parametrize("codec", ["cp1252", "mac_roman", "utf-8"])
@pytest.mark.parametrize("text", WORDS)
def test_writing_is_read_as_it_was_written(text: str, codec: str) -> None:
    """In each of the three, where the set has the letters."""
    found = undeclared([text.encode(codec)])

    assert found is not None
    assert text.encode(codec).decode(found) == text


@pytest.mark.parametrize(
    ("text", "codec"),
    [
        ("Мария", "cp1251"), ("Мария", "koi8_r"), ("山田太郎", "shift_jis"), ("张伟摄影", "gbk"), ("攝影", "big5"),
        # What either set could mean.
        ("Œuvre", "cp1252"), ("Œuvre", "mac_roman"), ("Ída", "cp1252"), ("Ída", "mac_roman"),
    ],
)  # fmt: skip
def test_what_nobody_can_tell_is_not_guessed(text: str, codec: str) -> None:
    """Other alphabets, and words that are words in both."""
    assert undeclared([text.encode(codec)]) is None


def test_one_text_tells_the_set_of_its_block() -> None:
    """A program writes all of a block in one set."""
    assert undeclared([b"\xccda"]) is None
    for codec in ("cp1252", "mac_roman"):
        texts = [text.encode(codec) for text in ("Ída", "Müller", "plain")]
        assert undeclared(texts) == codec
    assert undeclared([]) == "utf-8"


@pytest.mark.parametrize(
    ("escape", "codec"),
    [
        (b"\x1b%G", "utf-8"), (b"\x1b%/G", "utf-8"), (b"\x1b%/I", "utf-8"), (b"\x1b.A", "cp1252"),
        (b"\x1b-A", "cp1252"), (b"\x1b-L", "iso8859-5"), (b"\x1b/b", "iso8859-15"), (b"\x1b$B", "iso2022_jp"),
        (b"", None), (b"UTF8", None), (b"\x1b-Z", None),
    ],
)  # fmt: skip
def test_declarations_name_a_set(escape: bytes, codec: str | None) -> None:
    """By the ISO-IR register (transcribed from memory); others are as if there were none."""
    assert declared(escape) == codec
