"""The kinds of values that a config holds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from lanternslide.config.fields import Bytes, DeliveryName, FolderPattern, Names, fill_folder

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
        *((Names, value) for value in ("club", {"club": 1}, [""], [3], ["a\tb"])),
        *((FolderPattern, value) for value in ("out/{destination}", "out/{", "out/}", "out/{photographer", "{}")),
        *((DeliveryName, value) for value in ("", "{stem}", "{stem}.png", "a/{stem}.jpg", "a\\{stem}.jpg", ".jpg")),
        *((DeliveryName, value) for value in (".{stem}.jpg", "{title}.jpg", "{stem.jpg", "stem}.jpg", "{}.jpg")),
    ],
)
def test_what_does_not_fit_is_refused(kind: Any, value: object) -> None:
    """Nothing is guessed: no text is a number, nothing is cut or turned into something else."""
    with pytest.raises(ValidationError):
        taken(kind, value)


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


def test_a_folder_may_hold_the_photographer() -> None:
    """In any part, more than once; it is filled in for each."""
    pattern = taken(FolderPattern, "out/{photographer}/of-{photographer}")

    assert fill_folder(pattern, "ida") == BASE / "out" / "ida" / "of-ida"
