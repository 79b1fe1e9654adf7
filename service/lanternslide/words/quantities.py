"""Amounts in words, for a person: bytes, memory, how many, how long."""

from __future__ import annotations

__all__ = ["counted", "readable_bytes", "readable_duration", "readable_memory"]


def readable_bytes(number: int) -> str:
    """Return a number of bytes for a person, in decimal units (IEC 80000-13)."""
    size = float(number)
    for unit in ("bytes", "kB", "MB", "GB"):
        if size < 1000:
            if unit == "bytes":
                return counted(number, "byte", "bytes")
            is_whole = unit == "kB" and (size >= 10 or size == round(size))
            return f"{size:.0f} {unit}" if is_whole else f"{size:.1f} {unit}"
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
