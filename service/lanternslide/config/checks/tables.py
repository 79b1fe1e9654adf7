"""The tables of the config: which keys each has, and what is allowed there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import is_dataclass
from functools import cache
from typing import Any, get_args, get_type_hints

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from lanternslide.config.settings import NAME_ALLOWED, Settings

__all__ = ["TABLES", "Place", "describe", "fields_of", "table_in"]

Place = tuple[int | str, ...]
"""A path of keys, such as ("destinations", "club", "size")."""

TABLES: dict[str, type] = {
    name: get_args(Settings.model_fields[name].annotation)[1] for name in ("photographers", "destinations")
}
"""The tables whose keys are names that the owner chooses."""


@cache
def fields_of(table: type) -> Mapping[str, FieldInfo]:
    """Return the keys of a table, a model or a dataclass, each with its annotation and its description at least."""
    if issubclass(table, BaseModel):
        return table.model_fields
    return {name: FieldInfo.from_annotation(hint) for name, hint in get_type_hints(table, include_extras=True).items()}


def table_in(annotation: Any) -> type | None:
    """Return the table that a key's value is, or may be; None for a key with a plain value."""
    for candidate in (annotation, *get_args(annotation)):
        if isinstance(candidate, type) and (issubclass(candidate, BaseModel) or is_dataclass(candidate)):
            return candidate
    return None


def describe(place: Place) -> tuple[type, str]:
    """Return the table at *place* (or around it) and what is allowed there."""
    table: type = Settings
    description = "tables"
    parts = iter(place)
    for part in parts:
        field = fields_of(table).get(str(part))
        if field is None:
            return table, description
        description = field.description or description
        if table is Settings and str(part) in TABLES:
            if next(parts, None) is not None:
                table, description = TABLES[str(part)], f"a table; its name: {NAME_ALLOWED}"
            continue
        table = table_in(field.annotation) or table
    return table, description
