"""Kinds of values in a config: sizes in bytes, patterns, lists of names. Plain numbers and texts: `records.values`."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator

from lanternslide.records.values import Folder, Text, not_taken, text_of
from lanternslide.words import ConfigWord

__all__ = ["Bytes", "DeliveryName", "FileMode", "FolderPattern", "Names", "fill_folder"]

UNITS = {"b": 1, "kb": 10**3, "mb": 10**6, "gb": 10**9, "kib": 2**10, "mib": 2**20, "gib": 2**30}
"""Decimal and binary units of information (IEC 80000-13)."""

NAME_FIELDS = ("stem", "photographer", "destination", "width", "height", "date", "year")

APART = ("{stem}", "{date}")
"""Fields by which pictures have different names; of a date, those of one day are numbered."""

SIZE = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s*([A-Za-z]+)")


def _bytes(value: Any) -> int:
    match = SIZE.fullmatch(value.strip()) if isinstance(value, str) else None
    unit = UNITS.get(match[2].lower()) if match else None
    if match is None or unit is None or float(match[1]) * unit < 1:
        raise ValueError
    return int(float(match[1]) * unit)


def _folder_pattern(path: Path) -> Path:
    if "{" in str(path).replace("{photographer}", "") or "}" in str(path).replace("{photographer}", ""):
        raise ValueError
    return path


def _file_mode(text: str) -> str:
    """Return permissions that its owner can read and write by, and that make no program of a file."""
    if re.fullmatch("0[0-7]{3}", text) is None or int(text, 8) & 0o600 != 0o600 or int(text, 8) & 0o111:
        raise ValueError
    return text


def _names(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list | tuple):
        raise ValueError  # noqa: TRY004 - pydantic takes only ValueError for a value that does not fit
    return tuple(text_of(name).removeprefix("@") for name in value)  # as it stands in a picture's name


def _delivery_name(text: str) -> str:
    """Return a pattern of names: known fields in braces, an ending, no folders."""
    plain = re.sub(r"\{(?:" + "|".join(NAME_FIELDS) + r")\}", "", text)
    if set(plain) & set("{}/\\") or not text.lower().endswith((".jpg", ".jpeg")) or text.startswith("."):
        raise ValueError
    if not any(name in text for name in APART):
        raise not_taken(ConfigWord.NAMES_ALIKE)
    return text


DeliveryName = Annotated[Text, AfterValidator(_delivery_name)]
"""A pattern of the names of deliveries."""
Bytes = Annotated[int, BeforeValidator(_bytes)]
"""A size such as "500 kB", in bytes."""
FolderPattern = Annotated[Folder, AfterValidator(_folder_pattern)]
"""A folder that may hold ``{photographer}``."""
FileMode = Annotated[Text, AfterValidator(_file_mode)]
"""Permissions of a file in octal, such as "0644"."""
Names = Annotated[tuple[str, ...], BeforeValidator(_names)]


def fill_folder(pattern: Path, photographer: str) -> Path:
    """Return *pattern* with ``{photographer}`` replaced."""
    return Path(str(pattern).replace("{photographer}", photographer))
