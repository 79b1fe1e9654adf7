"""Events for a person at a terminal."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from lanternslide.report.folding import folded
from lanternslide.words import counted, readable_bytes, readable_duration

__all__ = ["readable_event"]


INDENT = 10
"""Columns before what stands below an event."""


def readable_event(event: dict[str, Any], width: int | None = None) -> str:
    """Return a log event for a person, folded to a terminal's *width*; *event* is what the log's processors made."""
    time = datetime.fromisoformat(event["timestamp"]).replace(tzinfo=UTC).astimezone().strftime("%H:%M:%S")
    match event["event"]:
        case "delivered":
            text = (
                f"{event['original']} for {event['destination']}: {event['width']} × {event['height']} pixels, "
                f"{readable_bytes(event['bytes'])}, quality {event['quality']}"
            )
            text += "".join(f"\n{'':{INDENT}}? {doubt}" for doubt in event["doubts"])
            text += "".join(f"\n{'':{INDENT}}- {note}" for note in event["notes"])
        case "held":
            text = f"{event['original']}\n{'':{INDENT}}{event['reason']}"
        case "waits":
            text = f"{event['what']}\n{'':{INDENT}}{event['reason']}"
        case "worker refused":
            text = f"{event['host']}\n{'':{INDENT}}{event['reason']}"
        case "watching":
            text = f"{', '.join(event['folders'])} (Ctrl-C stops)"
        case "goes on":
            text = event["what"]
        case "progress":
            text = f"{event['done']} of {counted(event['all'], 'original', 'originals')}"
            if event["seconds_left"] is not None:
                text += f", about {readable_duration(event['seconds_left'])} left"
        case "batch done":
            text = (
                f"{counted(event['pictures'], 'picture', 'pictures')}, "
                f"{counted(event['deliveries'], 'delivery', 'deliveries')}, "
                f"{readable_bytes(event['bytes_out'])}; {event['held']} held"
            )
        case _:
            known = ("event", "timestamp", "level", "exception")
            text = ", ".join(f"{key}: {value}" for key, value in event.items() if key not in known)
    trace = f"\n{event['exception']}" if "exception" in event else ""
    colon = ": " if text else ""
    return folded(f"{time}  {event['event']}{colon}{text}", width, INDENT) + trace
