"""Plain kinds of values that a setting holds, as annotated types: pydantic checks them when a config is read.

A value that does not fit raises ValueError, and the loader turns that into a fault that quotes the setting's
description as what is allowed. Where a fault has words of its own, it is a `PydanticCustomError` whose type is their
key.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, Strict, ValidationInfo
from pydantic_core import PydanticCustomError

from lanternslide.words import ConfigWord

__all__ = [
    "Chroma",
    "Corner",
    "File",
    "Flag",
    "Folder",
    "Number",
    "Pixels",
    "Text",
    "Whole",
    "expanded",
    "not_taken",
    "text_of",
]


def not_taken(word: ConfigWord) -> PydanticCustomError:
    """Return the complaint of a value or table that does not fit, of a kind of its own: *word* is its type."""
    return PydanticCustomError(word.value, word.value)


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


def text_of(value: Any) -> str:
    """Return *value* if it is a text that says something and can be printed.

    Raises
    ------
    ValueError
        If it is not.
    """
    if not isinstance(value, str) or not value.strip() or not value.isprintable():
        raise ValueError
    return value


def _folder(value: Any, info: ValidationInfo) -> Path:
    """Return an absolute path: ``~`` expanded, relative paths taken from the config's folder."""
    path = expanded(text_of(value))
    base: Path = (info.context or {}).get("base", Path.cwd())
    return path if path.is_absolute() else base / path


def _file(value: Any, info: ValidationInfo) -> str:
    return str(_folder(value, info))


Whole = Annotated[int, Strict()]
Number = Annotated[float, Strict()]
Flag = Annotated[bool, Strict()]
Text = Annotated[str, BeforeValidator(text_of)]
Folder = Annotated[Path, BeforeValidator(_folder)]
File = Annotated[str, BeforeValidator(_file)]
"""A file's path as text: a job that holds it may go to a machine of another system, where paths are otherwise."""
Pixels = Annotated[Whole, Field(ge=16, le=100_000)]
Corner = Literal["lower right", "lower left", "upper right", "upper left", "centre"]
Chroma = Literal["4:4:4", "4:2:2", "4:2:0"]
"""How finely a JPEG keeps colour (the trade's J:a:b)."""
