"""Kinds of values that a setting holds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from lanternslide.records.values import File, Flag, Folder, Number, Text, Whole, expanded

BASE = Path("/srv/lanternslide")


def taken(kind: Any, value: object) -> Any:
    """Return what a value of this kind becomes in a config that lies in BASE."""
    return TypeAdapter[Any](kind).validate_python(value, context={"base": BASE})


@pytest.mark.parametrize(
    ("kind", "value"),
    [
        *((Text, value) for value in ("", "  ", "a\nb", "a\x00", "a\u202eb", 5, None, ["a"])),
        *((Folder, value) for value in ("", " ", "a\nb", 5, "~nobody-of-this-name/drop")),
        *((Whole, value) for value in (1.0, "1", True)),
        *((Number, value) for value in ("1", True)),
        *((Flag, value) for value in (1, "true", 0)),
    ],
)
def test_what_does_not_fit_is_refused(kind: Any, value: object) -> None:
    """Nothing is guessed: no text is a number, nothing is cut or turned into something else."""
    with pytest.raises(ValidationError):
        taken(kind, value)


@pytest.mark.parametrize("text", ["Ida Marrow", "© {year} Ida Marrow", " 山田 "])
def test_texts_stay_as_they_are(text: str) -> None:
    """Spaces and all letters included."""
    assert taken(Text, text) == text


@pytest.mark.parametrize(
    ("text", "folder"),
    [
        ("drop/ida", "/srv/lanternslide/drop/ida"),
        ("/srv/drop", "/srv/drop"),
        ("~/drop", "/home/of/ida/drop"),
        ("drop/~", "/srv/lanternslide/drop/~"),
    ],
)
def test_folders_begin_at_the_config(monkeypatch: pytest.MonkeyPatch, text: str, folder: str) -> None:
    """A relative one lies beside it; ~ at the beginning, and there alone, is the home folder."""
    monkeypatch.setenv("HOME", "/home/of/ida")

    assert taken(Folder, text) == Path(folder)
    assert taken(File, text) == folder


def test_a_home_of_nobody_is_no_path() -> None:
    """Whoever asks is told so by ValueError."""
    with pytest.raises(ValueError):
        expanded("~nobody-of-this-name/drop")
