"""The kinds of values that a config holds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from lanternslide.config.fields import (
    Bytes,
    DeliveryName,
    Flag,
    Folder,
    FolderPattern,
    Names,
    Number,
    Text,
    Whole,
    expanded,
    fill_folder,
)

BASE = Path("/srv/lanternslide")


def taken(kind: Any, value: object) -> Any:
    """Return what a value of this kind becomes in a config that lies in BASE."""
    return TypeAdapter[Any](kind).validate_python(value, context={"base": BASE})


@pytest.mark.parametrize(
    ("text", "size"),
    [
        # Decimal and binary units (IEC 80000-13).
        ("500 kB", 500_000),
        ("500kb", 500_000),
        ("2 MB", 2_000_000),
        ("4 GiB", 4 * 1024**3),
        ("1 KiB", 1024),
        ("1.5 MiB", 3 * 512 * 1024),
        ("3 GB", 3_000_000_000),
        (" 12 B ", 12),
        ("1 b", 1),
    ],
)
def test_sizes_in_bytes(text: str, size: int) -> None:
    """With their unit, decimal or binary, in whatever case."""
    assert taken(Bytes, text) == size


@pytest.mark.parametrize(
    ("kind", "value"),
    [
        *(
            (Bytes, value)
            for value in ("", "500", "kB", "-5 kB", "0 kB", "0.4 B", "5 TB", "5 kilo", "1e3 kB", "٥ kB", 500)
        ),
        *((Text, value) for value in ("", "  ", "a\nb", "a\x00", "a\u202eb", 5, None, ["a"])),
        *((Names, value) for value in ("club", {"club": 1}, [""], [3], ["a\tb"])),
        *((Folder, value) for value in ("", " ", "a\nb", 5, "~nobody-of-this-name/drop")),
        *((FolderPattern, value) for value in ("out/{destination}", "out/{", "out/}", "out/{photographer", "{}")),
        *((DeliveryName, value) for value in ("", "{stem}", "{stem}.png", "a/{stem}.jpg", "a\\{stem}.jpg", ".jpg")),
        *((DeliveryName, value) for value in (".{stem}.jpg", "{title}.jpg", "{stem.jpg", "stem}.jpg", "{}.jpg")),
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


def test_names_keep_their_order() -> None:
    """A list may be empty."""
    assert taken(Names, ["journal", "Club"]) == ("journal", "Club")
    assert taken(Names, []) == ()


@pytest.mark.parametrize(
    "name",
    [
        "{stem}.jpg",
        "{date}-{stem}.JPEG",
        "{photographer}_{destination}_{width}x{height}-{year} {stem}.jpg",
        "{date}.jpg",
    ],
)
def test_patterns_of_names(name: str) -> None:
    """Every field of the contract, and an ending in either spelling."""
    assert taken(DeliveryName, name) == name


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


def test_a_folder_may_hold_the_photographer() -> None:
    """In any part, more than once; it is filled in for each."""
    pattern = taken(FolderPattern, "out/{photographer}/of-{photographer}")

    assert fill_folder(pattern, "ida") == BASE / "out" / "ida" / "of-ida"


def test_a_home_of_nobody_is_no_path() -> None:
    """Whoever asks is told so by ValueError."""
    with pytest.raises(ValueError):
        expanded("~nobody-of-this-name/drop")
