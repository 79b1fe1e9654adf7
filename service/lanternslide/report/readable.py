"""Figures and events for a person at a terminal."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

__all__ = ["counted", "readable_bytes", "readable_duration", "readable_event", "readable_memory"]


def readable_bytes(number: int) -> str:
    """Return a number of bytes for a person, in decimal units (IEC 80000-13)."""
    size = float(number)
    for unit in ("bytes", "kB", "MB", "GB"):
        if size < 1000:
            return f"{size:.0f} {unit}" if unit in ("bytes", "kB") else f"{size:.1f} {unit}"
        size /= 1000
    return f"{size:.1f} TB"


def readable_memory(mib: float) -> str:
    """Return an amount of memory, given in MiB, in the binary units that memory is sold in (IEC 80000-13)."""
    return f"{mib:.0f} MiB" if mib < 1000 else f"{mib / 1024:.1f} GiB"


def counted(number: int, one: str, many: str) -> str:
    """Return a number of things in words: 1 delivery, 2 deliveries."""
    return f"{number} {one if number == 1 else many}"


def readable_duration(seconds: float) -> str:
    """Return how long something takes, given in seconds, no more exactly than an estimate is."""
    minutes = max(round(seconds / 60), 1)
    if minutes < 60:
        return counted(minutes, "minute", "minutes")
    if minutes < 600:
        hours, minutes = divmod(round(minutes, -1), 60)
        more = f" {minutes} minutes" if minutes else ""
        return counted(hours, "hour", "hours") + more
    hours = round(minutes / 60)
    if hours < 48:
        return counted(hours, "hour", "hours")
    return counted(round(hours / 24), "day", "days")


def readable_event(event: dict[str, Any]) -> str:
    """Return a log event as a line for a person; *event* is what the log's processors have made of it."""
    time = datetime.fromisoformat(event["timestamp"]).replace(tzinfo=UTC).astimezone().strftime("%H:%M:%S")
    match event["event"]:
        case "delivered":
            text = (
                f"{event['original']} for {event['destination']}: {event['width']} × {event['height']} pixels, "
                f"{readable_bytes(event['bytes'])}, quality {event['quality']}"
            )
            text += "".join(f"\n          ? {doubt}" for doubt in event["doubts"])
        case "held":
            text = f"{event['original']}\n          {event['reason']}"
        case "waits":
            text = f"{event['what']}\n          {event['reason']}"
        case "worker refused":
            text = f"{event['host']}\n          {event['reason']}"
        case "watching":
            text = ", ".join(event["folders"])
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
    return f"{time}  {event['event']}{colon}{text}{trace}"
