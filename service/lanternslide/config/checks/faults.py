"""Turning the validation's complaints into faults that name the key, what was found and what is allowed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from lanternslide.config.beginning.first import toml_text
from lanternslide.config.checks.near import nearest, or_near
from lanternslide.config.checks.tables import TABLES, Place, describe, fields_of, table_in
from lanternslide.config.settings import NAME_ALLOWED, SIZE_RULES, Settings
from lanternslide.errors import ConfigFault
from lanternslide.words import ConfigWord, Said, say

__all__ = ["PlacedFault", "faults_of", "quote"]

EXAMPLES = {
    "size": "size = { long_edge = 1050 }", "watermark": 'watermark = { text = "Ida Marrow" }',
    "sharpen": "sharpen = { strength = 0.8 }", "tone": "tone = { brightness = 3 }",
    "forecast": "forecast = { long_edge = 1240, quality = 72 }",
}  # fmt: skip
"""Keys whose value is a table, and how one looks."""

UNKNOWN_KEY = {"extra_forbidden", "unexpected_keyword_argument"}
"""What pydantic calls a key that is not there, in a model and in a dataclass."""

NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?")

SPECIAL = {"\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r"}
"""What a backslash and a letter become in double quotation marks (TOML 1.0.0, "String"); no folder's name has them."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PlacedFault:
    """A fault, and which part of the config to leave out to look at the rest."""

    place: Place
    fault: ConfigFault


def faults_of(
    file: str,
    raw: dict[str, Any],
    details: Sequence[ErrorDetails],
    *,
    shown_as: Place = (),
    instead_of: Place = (),
) -> list[PlacedFault]:
    """Return one fault for each key, however many complaints a union of types makes about it.

    Parameters
    ----------
    file, raw
        The config's name and its content.
    details
        The complaints of the settings model.
    shown_as, instead_of
        The place that is named where a key's place begins with *instead_of*.
    """
    found: dict[Place, PlacedFault] = {}
    for detail in details:
        place = _key_place(detail)
        shown = (*shown_as, *place[len(instead_of) :])
        if place not in found or detail["type"] in UNKNOWN_KEY or _of_a_table(detail) is not None:
            fault = _fault(file, ".".join(str(part) for part in shown), place, raw, detail)
            # A table that lacks something required is left out as a whole.
            found[place] = PlacedFault(place=place[:-1] if detail["type"] == "missing" else place, fault=fault)
    # A key that stands beside its table says where it goes; that the table is missing is no fault of its own.
    beside = {
        (*place[:-1], _table_of(place, _at(raw, place)))
        for place, item in found.items()
        if item.fault.said.key in (ConfigWord.KEY_OF_TABLE, ConfigWord.KEY_OF_TABLE_ALONE)
    }
    found = {
        place: item for place, item in found.items()
        if place not in beside or item.fault.said.key != ConfigWord.MISSING_KEY.value
    }  # fmt: skip
    # A table whose name was cut in two by a dot lacks what stands below the other part.
    dotted = {place[:-1] for place, item in found.items() if item.fault.said.key == ConfigWord.DOTTED_NAME.value}
    found = {
        place: item for place, item in found.items()
        if place[:-1] not in dotted or item.fault.said.key != ConfigWord.MISSING_KEY.value
    }  # fmt: skip
    # What a union says of the whole table is only that something inside it is wrong.
    return [fault for place, fault in found.items() if not _only_says_inside(place, found, details)]


def _only_says_inside(place: Place, found: dict[Place, PlacedFault], details: Sequence[ErrorDetails]) -> bool:
    inside = any(other[: len(place)] == place and other != place for other in found)
    return inside and not any(detail["loc"][-1] == "[key]" and _key_place(detail) == place for detail in details)


def _of_a_table(detail: ErrorDetails) -> ConfigWord | None:
    """Return what is wrong with a table whose keys do not go together; None for another complaint."""
    return next((word for word in (ConfigWord.LEAD_SIZE, ConfigWord.MARK_WHAT) if word.value == detail["type"]), None)


def _fault(file: str, key: str, place: Place, raw: dict[str, Any], detail: ErrorDetails) -> ConfigFault:
    value = _at(raw, place)
    description = describe(place)[1]
    if isinstance(value, list) and value and isinstance(value[0], dict) and description.startswith("a table"):
        said = say(ConfigWord.SINGLE_BRACKETS, right=f"[{key}]")
    elif detail["type"] in UNKNOWN_KEY:
        said = _said_of_key(place, value, _at(raw, place[:-1]))
    elif detail["type"] == "missing":
        said = say(ConfigWord.MISSING_KEY, allowed=description)
    elif detail["type"] == ConfigWord.SIZE_RULE.value and isinstance(value, dict):
        said = say(ConfigWord.SIZE_RULE, found=", ".join(value) or "nothing")
    elif (word := _of_a_table(detail)) is not None:
        said = say(word)
    elif detail["loc"][-1] == "[key]":
        said = say(ConfigWord.NOT_ALLOWED, found=quote(place[-1]), allowed=NAME_ALLOWED)
    else:
        said = _said_of_value(str(place[-1]), value, description, detail["type"])
    return ConfigFault(file=file, key=key, said=said)


def _said_of_value(key: str, value: Any, allowed: str, complaint: str) -> Said:
    """Return what is wrong with a value, with how to write it where a usual slip is seen."""
    if complaint == ConfigWord.NAMES_ALIKE.value:
        return say(ConfigWord.NAMES_ALIKE, found=quote(value))
    if isinstance(value, str) and allowed.startswith("a list of") and "numbers" not in allowed:
        names = ", ".join(quote(part.removeprefix("@")) for name in value.split(",") if (part := name.strip()))
        return say(ConfigWord.LIST_NEEDED, found=quote(value), right=f"[{names}]")
    if key in EXAMPLES and not isinstance(value, dict):
        return say(ConfigWord.TABLE_NEEDED, found=quote(value), allowed=allowed, right=EXAMPLES[key])
    if isinstance(value, str) and NUMBER.fullmatch(value) and _takes_numbers(allowed):
        return say(ConfigWord.NUMBER_IN_QUOTES, right=f"{key} = {value}")
    if isinstance(value, str) and ("folder" in allowed or "file" in allowed) and set(value) & SPECIAL.keys():
        return say(ConfigWord.BACKSLASHES, right=f"{key} = '{''.join(SPECIAL.get(c, c) for c in value)}'")
    return say(ConfigWord.NOT_ALLOWED, found=quote(value), allowed=allowed)


def _takes_numbers(allowed: str) -> bool:
    """Return whether a number may stand where this is *allowed*."""
    outside = re.sub(r'"[^"]*"', "", allowed)
    return re.search(r"[0-9]", outside) is not None and "a list" not in allowed and "unit" not in allowed


def _said_of_key(place: Place, value: Any, around_it: Any) -> Said:
    """Return what is wrong with a key that is not there: it is another heading's, or misspelt, or a name with a dot."""
    *around, name = map(str, place)
    if not around and isinstance(value, dict) and (heading := _heading_like(name, value)):
        return say(ConfigWord.HEADING, found=f"[{name}]", right=heading)
    if len(around) == 2 and around[0] in TABLES and not any(key in fields_of(TABLES[around[0]]) for key in around_it):
        parts = [around[1], name]
        while isinstance(value, dict) and len(value) == 1 and isinstance(next(iter(value.values())), dict):
            ((part, value),) = value.items()
            parts.append(part)
        if isinstance(value, dict) and value and set(value) <= fields_of(TABLES[around[0]]).keys():
            return say(ConfigWord.DOTTED_NAME, table=around[0], right="-".join(parts))
    # The tables around it come first: a key below the heading of a smaller one.
    homes = [tuple(around[:length]) for length in range(len(around) - 1, 0, -1)]
    homes += [("service",), *((table, "NAME") for table in TABLES), ("cluster",)]
    for home in homes:
        if (home[0] not in TABLES or len(home) > 1) and name in fields_of(describe(home)[0]):
            return say(ConfigWord.MISPLACED_KEY, home=f"[{'.'.join(home)}]")
    table = _table_of(place, value)
    if table and isinstance(around_it, dict):
        return _said_of_table(place, table, value, around_it.get(table))
    known = tuple(fields_of(describe(place[:-1])[0]))
    return say(ConfigWord.UNKNOWN_KEY, near=or_near(name, known), known=", ".join(known))


def _tables_with(place: Place) -> dict[str, type]:
    """Return the smaller tables beside a key that have such a key: "size" for "long_edge"."""
    fields = fields_of(describe(place[:-1])[0])
    inner = {table: table_in(info.annotation) for table, info in fields.items()}
    return {table: model for table, model in inner.items() if model and str(place[-1]) in fields_of(model)}


def _table_of(place: Place, value: Any) -> str:
    """Return the smaller table beside a key that the key belongs in; the first that takes its *value*; "" if none."""
    tables = _tables_with(place)
    key = str(place[-1])
    fits = [table for table, model in tables.items() if not _complaints(model, {key: value}, key)]
    return next(iter(fits or tables), "")


def _complaints(model: type, given: dict[str, Any], key: str | None = None) -> bool:
    """Return whether a table is refused, or what it says under one *key*."""
    try:
        TypeAdapter(model).validate_python(given, context={"base": Path()})
    except ValidationError as error:
        return key is None or any(detail["loc"][:1] == (key,) for detail in error.errors())
    return False


def _said_of_table(place: Place, table: str, value: Any, own: Any) -> Said:
    """Return that a key belongs in a smaller table, with that table as far as it is one that is taken."""
    key = str(place[-1])
    given = dict(own) if isinstance(own, dict) else {}
    if key in SIZE_RULES:
        given = {name: found for name, found in given.items() if name not in SIZE_RULES}
    given[key] = value
    if _complaints(_tables_with(place)[table], given):
        return say(ConfigWord.KEY_OF_TABLE_ALONE, table=table)
    return say(ConfigWord.KEY_OF_TABLE, table=table, right=f"{table} = {_inline(given)}")


def _heading_like(name: str, content: dict[str, Any]) -> str:
    """Return the heading that was probably meant by one that is none; "" if that cannot be told."""
    for table, model in TABLES.items():
        if content and set(content) <= fields_of(model).keys():
            return f"[{table}.{name}]"
    near = nearest(name, tuple(fields_of(Settings)))
    inner = next(iter(content), "") if near in TABLES else ""
    return "" if near is None else f"[{near}.{inner}]" if inner else f"[{near}]"


def _inline(table: dict[str, Any]) -> str:
    """Return a table on one line, as it stands in TOML."""
    return f"{{ {', '.join(f'{key} = {_in_toml(value)}' for key, value in table.items())} }}"


def _in_toml(value: Any) -> str:
    if isinstance(value, dict):
        return _inline(value)
    if isinstance(value, list):
        return f"[{', '.join(map(_in_toml, value))}]"
    return toml_text(value) if isinstance(value, str) else quote(value)


def _key_place(detail: ErrorDetails) -> Place:
    """Return the part of a validation error's place that is a path of keys, without names of types."""
    place: list[int | str] = []
    model: type | None = Settings
    *inner, last = detail["loc"]
    for part in (*inner, last):
        if part == "[key]":
            break
        if model is None:  # a name in a table of tables
            model = TABLES[str(place[0])]
            place.append(part)
            continue
        field = fields_of(model).get(str(part))
        if field is not None:
            place.append(part)
            model = None if model is Settings and str(part) in TABLES else (table_in(field.annotation) or model)
        elif detail["type"] in UNKNOWN_KEY and part is last:
            place.append(part)
    return tuple(place)


def _at(raw: Any, place: Place) -> Any:
    for part in place:
        raw = raw.get(part) if isinstance(raw, dict) else raw
    return raw


def quote(value: Any) -> str:
    """Return *value* as it would stand in TOML, near enough to be found again."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"[{', '.join(map(quote, value))}]"
    if isinstance(value, str):
        shown = value if value.isprintable() else value.encode("unicode_escape").decode("ascii")
        return f'"{shown}"'
    return str(value)
