"""The records as a list for a person: by day, newest last, what is held at the end."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any

from lanternslide.words import readable_bytes

__all__ = ["readable_held", "readable_records"]

TIME_INDENT, INDENT = 2, 9
"""Columns before the time, and before what was delivered."""


def readable_records(records: Iterable[dict[str, Any]], width: int) -> Iterator[str]:
    """Yield lines of *width* columns about deliveries, given oldest first; times are local.

    Deliveries of one original that were made together stand below its name. A doubt begins with "?", a note with "-".
    """
    day = entry = None
    for record in records:
        made = datetime.fromisoformat(record["delivered_at"]).astimezone()
        if made.date() != day:
            if day is not None:
                yield ""
            day, entry = made.date(), None
            yield f"{made:%A %Y-%m-%d}"
        time, name = f"{made:%H:%M}", _name(record)
        if (time, name) != entry:
            entry = (time, name)
            yield f"{'':{TIME_INDENT}}{time}  {name}"
        yield f"{'':{INDENT}}{_delivery(record)}"
        for doubt in record["doubts"]:
            yield from _paragraph(f"? {doubt}", width, INDENT + 2, 2)
        for note in record["notes"]:
            yield from _paragraph(f"- {note}", width, INDENT + 2, 2)


def readable_held(records: Iterable[dict[str, Any]], width: int) -> Iterator[str]:
    """Yield lines of *width* columns about held originals, if there are any, to stand below what was delivered."""
    for number, record in enumerate(records):
        if number == 0:
            yield from ("", "Held, until you act:")
        yield f"{'':{TIME_INDENT}}{_name(record)}"
        yield from _paragraph(record["reason"], width, TIME_INDENT + 2)


def _name(record: dict[str, Any]) -> str:
    return f"{record['photographer']}: {record['original']}"


def _delivery(record: dict[str, Any]) -> str:
    density = record["density"] or 1
    place = record["destination"] if density == 1 else f"{record['destination']} {density:g}x"
    size = f"{record['width']} × {record['height']}"
    parts = [f"{place:12}", f"{size:>12}", f"{readable_bytes(record['bytes'] or 0):>7}", f"quality {record['quality']}"]
    if record["ssim"] is not None:
        parts.append(f"SSIM {record['ssim']:.3f}")
    if record["state"] == "withdrawn":
        parts.append("withdrawn")
    return "  ".join(parts)


def _paragraph(text: str, width: int, indent: int, hanging: int = 0) -> list[str]:
    return textwrap.wrap(text, width, initial_indent=" " * indent, subsequent_indent=" " * (indent + hanging))
