"""The kinds of values that a config holds: sizes in bytes, folders, lists.

Each kind is an annotated type for the settings model; a value that does not fit raises ValueError, and the
loader turns that into a fault that quotes the field's description as what is allowed. Where a fault has words of its
own, it is a `PydanticCustomError` whose type is their key.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, Strict, ValidationInfo
from pydantic_core import PydanticCustomError

from lanternslide.words import ConfigWord

__all__ = [
    "Bytes",
    "DeliveryName",
    "Flag",
    "Folder",
    "FolderPattern",
    "Names",
    "Number",
    "Text",
    "Whole",
    "expanded",
    "fill_folder",
    "not_taken",
]

UNITS = {"b": 1, "kb": 10**3, "mb": 10**6, "gb": 10**9, "kib": 2**10, "mib": 2**20, "gib": 2**30}
"""Decimal and binary units of information (IEC 80000-13)."""

NAME_FIELDS = ("stem", "photographer", "destination", "width", "height", "date", "year")

APART = ("{stem}", "{date}")
"""Fields by which pictures have different names; of a date, those of one day are numbered."""

SIZE = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s*([A-Za-z]+)")

Whole = Annotated[int, Strict()]
Number = Annotated[float, Strict()]
Flag = Annotated[bool, Strict()]


def not_taken(word: ConfigWord) -> PydanticCustomError:
    """Return the complaint of a value or table that does not fit, of a kind of its own: *word* is its type."""
    return PydanticCustomError(word.value, word.value)


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.strip() or not value.isprintable():
        raise ValueError
    return value


def _bytes(value: Any) -> int:
    match = SIZE.fullmatch(value.strip()) if isinstance(value, str) else None
    unit = UNITS.get(match[2].lower()) if match else None
    if match is None or unit is None or float(match[1]) * unit < 1:
        raise ValueError
    return int(float(match[1]) * unit)


def expanded(text: str) -> Path:
    """Return *text* as a path, with ``~`` or ``~NAME`` at its start expanded.

    Raises
    ------
    ValueError
        If there is nobody of that name.
    """
    try:
        return Path(text).expanduser()
    except RuntimeError as error:
        raise ValueError from error


def _folder(value: Any, info: ValidationInfo) -> Path:
    """Return an absolute path: ``~`` expanded, relative paths taken from the config's folder."""
    path = expanded(_text(value))
    base: Path = (info.context or {}).get("base", Path.cwd())
    return path if path.is_absolute() else base / path


def _folder_pattern(value: Any, info: ValidationInfo) -> Path:
    path = _folder(value, info)
    if "{" in str(path).replace("{photographer}", "") or "}" in str(path).replace("{photographer}", ""):
        raise ValueError
    return path


def _names(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list | tuple):
        raise ValueError  # noqa: TRY004 - pydantic takes only ValueError for a value that does not fit
    return tuple(_text(name).removeprefix("@") for name in value)  # as it stands in a picture's name


def _delivery_name(value: Any) -> str:
    """Return a pattern of names: known fields in braces, an ending, no folders."""
    text = _text(value)
    plain = re.sub(r"\{(?:" + "|".join(NAME_FIELDS) + r")\}", "", text)
    if set(plain) & set("{}/\\") or not text.lower().endswith((".jpg", ".jpeg")) or text.startswith("."):
        raise ValueError
    if not any(name in text for name in APART):
        raise not_taken(ConfigWord.NAMES_ALIKE)
    return text


Text = Annotated[str, BeforeValidator(_text)]
DeliveryName = Annotated[str, BeforeValidator(_delivery_name)]
"""A pattern of the names of deliveries."""
Bytes = Annotated[int, BeforeValidator(_bytes)]
"""A size such as "500 kB", in bytes."""
Folder = Annotated[Path, BeforeValidator(_folder)]
FolderPattern = Annotated[Path, BeforeValidator(_folder_pattern)]
"""A folder that may hold ``{photographer}``."""
Names = Annotated[tuple[str, ...], BeforeValidator(_names)]


def fill_folder(pattern: Path, photographer: str) -> Path:
    """Return *pattern* with ``{photographer}`` replaced."""
    return Path(str(pattern).replace("{photographer}", photographer))
