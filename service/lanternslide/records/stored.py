"""Records as the ledger keeps them: lines of JSON, brought up to date without being taken apart."""

from __future__ import annotations

import json
import re
from functools import cache
from typing import Any, Literal, get_args

from pydantic import BaseModel

from lanternslide.records.record import Record

__all__ = ["updated_line"]

CHANGED = ("state", "attempts", "filed_to", "delivered_at")
"""Fields that the ledger knows better than the line, which was written before the delivery stood."""

TEXT = r'"(?:[^"\\]++|\\.)*+"'
LIST = rf'\[(?:[^\]"]++|{TEXT})*+\]'
VALUE = rf"(?:null|true|false|-?[0-9][0-9.eE+-]*+|{TEXT}|{LIST})"
"""A value as JSON (RFC 8259), objects excepted."""


def updated_line(
    stored: str,
    *,
    state: Literal["delivered", "withdrawn"],
    attempts: int | None,
    filed_to: str | None,
    delivered_at: str,
) -> str:
    """Return the line of a record with what the ledger knows by now.

    There may be a hundred thousand: a line that has today's fields is passed on but for those that change. One of a
    version that knew fewer gets the others as null.
    """
    found = _todays().fullmatch(stored)
    if found is None:
        now = {"state": state, "attempts": attempts, "filed_to": filed_to, "delivered_at": delivered_at}
        return Record.model_validate_json(stored).model_copy(update=now).to_line()
    before, tried, filed, at, rest = found.groups()
    place = "null" if filed_to is None else json.dumps(filed_to, ensure_ascii=False)
    number = "null" if attempts is None else attempts
    return f'{before}"{state}"{tried}{number}{filed}{place}{at}"{delivered_at}"{rest}'


@cache
def _todays() -> re.Pattern[str]:
    """Return what matches a line with exactly today's fields; its groups are what stands between those that change."""
    parts = [
        f'"{name}": ){VALUE}(' if name in CHANGED else f'"{name}": {value}' for name, value in _values(Record).items()
    ]
    return re.compile(rf"(\{{{', '.join(parts)}\}})")


def _values(model: type[BaseModel]) -> dict[str, str]:
    """Return what matches the value of each field of a model."""
    return {name: _value(field.annotation) for name, field in model.model_fields.items()}


def _value(kind: Any) -> str:
    for part in (kind, *get_args(kind)):
        if isinstance(part, type) and issubclass(part, BaseModel):
            inner = ", ".join(f'"{name}": {value}' for name, value in _values(part).items())
            return rf"(?:null|\{{{inner}\}})"
    return VALUE
